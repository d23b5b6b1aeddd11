/* NAME.night.csv, the running order of an evening: a row for each clip's turn.
 * start_s,end_s,file,gain_db,seed,storm,clock,whole_end_s; to be edited and built
 * from again. */
#ifndef TC_NIGHT_ORDER_H
#define TC_NIGHT_ORDER_H

#include <stdbool.h>

#include "app/night/night_plan.h"
#include "app/night/night_times.h"

#define NIGHT_ORDER_ENDING ".night.csv"

/* What the order may name. */
struct night_list {
    const char *const *files;           /* names within the folder */
    const struct night_clip *clips;
    const double *gain_db;              /* of each clip, where a row gives none */
    const double *gain_most_db;         /* before it would leave full scale */
    size_t count;
};

/* What holds for the whole evening and stands in its rows. */
struct night_ground {
    int64_t seed;
    int day_s;                          /* time of day of its start, or NIGHT_NO_DAY */
    size_t clocks_off;                  /* rows read whose clock speaks of another start than most */
};

/* Finds a clip by its file; false with words in `text` that say what is wrong, and which file may have been meant. */
bool night_list_find(const struct night_list *list, const char *file, size_t *clip, char *text, size_t size);

/* Returns what the sink returned. */
enum tc_status night_order_write(const struct night_plan *p, const struct night_list *list, struct night_ground ground,
                                 struct tc_sink to);

/* Reads a text; `shown` is its name in messages. start_s and file must be
 * there, in any order of rows; an end_s before the clip's own cuts it short, but
 * one that is whole_end_s goes with a start_s that was moved. *ground stays where
 * the text gives none; the clocks tell when the evening starts by what most of
 * them say. TC_ERR_FORM with *why naming file and line, TC_ERR_MEMORY. */
enum tc_status night_order_read(const char *text, size_t size, const char *shown, const struct night_list *list,
                                struct night_plan *out, struct night_ground *ground, struct tc_problem *why);

#endif
