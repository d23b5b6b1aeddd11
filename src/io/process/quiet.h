/* Keeps what a decoder's library prints away from standard output and error.
 * They belong to the whole process: another thread's line that falls into such
 * a moment is lost, so keep the moments short. */
#ifndef TC_QUIET_H
#define TC_QUIET_H

void quiet_begin(void);
void quiet_end(void);

#endif
