/* When which light frame goes out: the logic of a show while it runs, without
 * clocks, network or sound, so that it can be tried with any clock. It follows
 * the sound: light frame i is due when second at_us[i] of the show is heard,
 * whatever the machine's own clock says meanwhile, so that a difference between
 * the two clocks never adds up. Where the sound stops, or makes no progress
 * for 250 ms, it is black until the sound has gone on to a moment at which the
 * show itself is dark: so a stall never adds a flash to those that were counted. */
#ifndef TC_LIVE_H
#define TC_LIVE_H

#include "app/live/track.h"
#include "words/units.h"

#define LIVE_STALL_S 0.25
/* The show looks at least so often, and black is sent by LIVE_STALL_S all the same. */
#define LIVE_GLANCE_S 0.02
#define LIVE_SPARE_S (2 * LIVE_GLANCE_S)
/* Before a sound that seems to have stopped is taken for it there is a second look, for where the whole machine
 * stood still and the sound goes on at once. */
#define LIVE_DOUBT_S 0.005
/* Light frames are never nearer to each other than the light network takes them,
 * over the seam too; a lap that repeats holds at least two. */
#define LIVE_APART_S (1.0 / DMX_PACKETS_MOST)
#define LIVE_LAP_LEAST_S (2 * LIVE_APART_S)

struct live {
    const struct track *track;
    double lap_s;            /* length of a lap; of the whole without `loop` */
    bool loop;
    uint8_t *state, *black;  /* the slots of the frame that is on, and dark ones */
    const uint8_t *slots;    /* which of them are to be sent now */
    int64_t lap;             /* from 0 */
    size_t next;             /* the frame of this lap that is due next */
    double heard_s, moved_s; /* the sound's last progress, and when that was */
    double doubt_s;          /* since when it seems to have stopped; below 0: it doesn't */
    bool stalled, held, ended; /* held: black until the show is dark */
};

/* What live_step found. */
struct live_news {
    bool fresh;              /* a light frame became due: `slots` are new */
    double late_s;           /* by how much it is late */
    double wait_s;           /* until the next one is due, by the sound's clock; never below 0 */
    uint8_t bright;          /* light of the frame that is on, 255 = all on */
};

/* A lap that repeats must be longer than 0 (the show refuses one below
 * LIVE_LAP_LEAST_S). TC_ERR_MEMORY. */
enum tc_status live_begin(struct live *l, const struct track *track, double lap_s, bool loop);
/* It is `now_s` by the machine, second `show_s` of the show is heard (below 0:
 * it has not begun), and at `until_s` by the machine the sound has stopped
 * unless it goes on before. Frames that were missed are passed over: their changes
 * arrive with the newest. */
struct live_news live_step(struct live *l, double now_s, double show_s, double until_s);
/* Black was sent from elsewhere: it stays so until the show itself is dark. */
void live_hold(struct live *l);
void live_clear(struct live *l);

#endif
