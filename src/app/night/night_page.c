#include "app/night/night_page.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "app/night/night_hear.h"
#include "page/json.h"

static void put_files(struct json *j, const struct night_outcome *o)
{
    json_open(j, "files", '[');
    for (size_t i = 0; i < o->recording_count - o->left_out; i++) { /* those that were heard come first */
        json_open(j, NULL, '[');
        json_text(j, NULL, o->recordings[i].file);
        json_whole(j, NULL, night_nearness(&o->recordings[i].heard));
        json_close(j, ']');
    }
    json_close(j, ']');
}

/* [start, end, file, storm, gain]; storm 0 stands alone. */
static void put_turns(struct json *j, const struct night_plan *plan)
{
    json_open(j, "turns", '[');
    for (size_t i = 0; i < plan->count; i++) {
        const struct night_turn *t = &plan->turns[i];
        json_open(j, NULL, '[');
        json_number(j, NULL, (double)t->start_ms / 1000, 3);
        json_number(j, NULL, (double)t->end_ms / 1000, 3);
        json_whole(j, NULL, (int64_t)t->clip);
        json_whole(j, NULL, t->storm);
        json_number(j, NULL, t->gain_db, 1);
        json_close(j, ']');
    }
    json_close(j, ']');
}

/* As night.js takes it. */
static void put_night(struct json *j, const void *of)
{
    const struct night_page *p = of;
    const struct night_outcome *o = p->outcome;
    const struct night_wish *wish = &p->job->wish;
    json_open(j, "night", '{');
    json_number(j, "length_s", (double)night_plan_end(&o->plan) / 1000, 3);
    if (o->day_s != NIGHT_NO_DAY) json_whole(j, "day_s", o->day_s);
    if (wish->quiet_to_ms > wish->quiet_from_ms) {
        json_open(j, "quiet", '[');
        json_number(j, NULL, (double)wish->quiet_from_ms / 1000, 3);
        json_number(j, NULL, (double)wish->quiet_to_ms / 1000, 3);
        json_close(j, ']');
    }
    if (o->under.file) json_text(j, "under", o->under.file);
    put_files(j, o);
    put_turns(j, &o->plan);
    json_close(j, '}');
}

/* An option with a number, where it isn't the usual one. */
static void add_number(struct night_page *p, size_t *n, char *text, const char *option, int64_t value, int64_t usual)
{
    if (value == usual) return;
    snprintf(text, sizeof *p->numbers, "%" PRId64, value);
    p->command[(*n)++] = option;
    p->command[(*n)++] = text;
}

void night_page_of(struct night_page *p, const struct night_job *job, const struct night_outcome *o)
{
    *p = (struct night_page){ .extra = { .command = p->command, .page = { put_night, p }, .of = o }, .job = job, .outcome = o };
    size_t n = 0;
    p->command[n++] = "night";
    p->command[n++] = job->folder;
    p->command[n++] = "--order";
    p->command[n++] = o->order_path ? o->order_path : job->order;
    p->command[n++] = "--out";
    p->command[n++] = job->out;
    p->command[n++] = "--sound-format";
    p->command[n++] = joined_endings[job->form];
    add_number(p, &n, p->numbers[3], "--sound-bits", job->bits, JOINED_BITS_USUAL);
    add_number(p, &n, p->numbers[0], "--loudness", job->lufs, NIGHT_LUFS_USUAL);
    if (!job->under) return;
    p->command[n++] = "--under";
    p->command[n++] = job->under;
    add_number(p, &n, p->numbers[1], "--under-level", job->under_level, NIGHT_UNDER_LEVEL_USUAL);
    add_number(p, &n, p->numbers[2], "--under-dip", job->under_dip, NIGHT_UNDER_DIP_USUAL);
    if (job->under_once) p->command[n++] = "--under-once";
}
