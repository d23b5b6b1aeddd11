#include "app/report/flash_words.h"

const char *flash_words_half(int64_t transitions)
{
    return transitions % 2 ? "; one that only starts or only ends in it counts half" : "";
}
