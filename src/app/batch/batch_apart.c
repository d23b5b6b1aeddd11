/* A clip of a batch at work in a process of its own. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "app/batch/batch_round.h"
#include "io/process/child.h"
#include "io/process/stop.h"

/* A clip is opened and cued in a process of its own: a decoder that crashes, or
 * takes all memory, costs this clip alone. */
struct answer {
    struct result result;    /* its message is not a pointer that means anything here */
    uint32_t sound;
    bool sound_known, has_message;
    char message[1024];
};
_Static_assert(sizeof(struct answer) <= CHILD_ANSWER_MOST, "an answer must fit into a pipe");

struct errand {
    struct round *round;
    struct clip *clip;
    void (*task)(struct round *r, struct clip *c);
};

static void run_errand(void *user, void *to)
{
    struct errand *e = user;
    struct answer *a = to;
    e->task(e->round, e->clip);
    a->result = e->clip->result;
    a->sound = e->clip->parts[PART_SOUND];
    a->sound_known = e->clip->sound_known;
    a->has_message = e->clip->result.message != NULL;
    snprintf(a->message, sizeof a->message, "%s", a->has_message ? e->clip->result.message : "");
    free(e->clip->result.message);
    e->clip->result.message = NULL;
}

void clip_run_apart(struct round *r, struct clip *c, void (*task)(struct round *r, struct clip *c))
{
    struct answer a;
    memset(&a, 0, sizeof a);
    int how;
    enum child_end end = child_run(run_errand, &(struct errand){ r, c, task }, &a, sizeof a, r->lock, &r->children,
                                   &how);
    if (end != CHILD_ANSWERED) {
        bool stopped = stop_asked();
        memset(&a, 0, sizeof a);
        a.result = (struct result){ .state = stopped ? CLIP_UNFINISHED : CLIP_FAILED,
                                     .status = stopped ? TC_ERR_STOPPED : TC_ERR_INTERNAL };
        a.has_message = !stopped;
        struct tc_problem said;
        child_say(end, how, c->path, "reading or cueing", "clips", &said);
        snprintf(a.message, sizeof a.message, "%s", said.text);
    }
    c->result = a.result;
    c->parts[PART_SOUND] = a.sound;
    c->sound_known = a.sound_known;
    c->result.message = a.has_message ? strdup(a.message) : NULL;
}
