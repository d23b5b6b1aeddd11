/* Standard input, output and error as they are handed to the program. */
#ifndef TC_STANDARD_H
#define TC_STANDARD_H

/* To be called first. Whoever starts the program may have closed them (>&-):
 * the next file to be opened would then stand in their place, be written over
 * by messages, or be taken for a stream that a decoder may print on. */
void standard_claim(void);

#endif
