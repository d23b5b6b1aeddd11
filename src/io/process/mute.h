/* Keeps what a decoder's library prints away from standard output and error.
 * They belong to the whole process: another thread's line that falls into such
 * a moment is lost, so keep the moments short. */
#ifndef TC_MUTE_H
#define TC_MUTE_H

void mute_begin(void);
void mute_end(void);

#endif
