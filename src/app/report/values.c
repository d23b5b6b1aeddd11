#include "app/report/values.h"

#include <math.h>

#include "words/text.h"

json_t *value_rounded(double v, double steps)
{
    return json_real(floor(v * steps + 0.5) / steps);
}

json_t *value_text(const char *s)
{
    char plain[1200];
    json_t *j = json_string(s);
    return j ? j : json_string(text_plain(plain, sizeof plain, s));
}
