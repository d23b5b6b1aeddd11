/* How many flashes, in words: a transition (a rise or a fall of light) is half a flash. */
#ifndef TC_FLASH_WORDS_H
#define TC_FLASH_WORDS_H

#include <stdint.h>

/* What to say after a number of flashes in a second that isn't whole; "" where it is. */
const char *flash_words_half(int64_t transitions);

#endif
