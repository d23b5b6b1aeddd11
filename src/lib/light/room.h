/* Room for flashes: what everybody who may be looking has counted so far, and
 * whether a rise of light still fits.
 *
 * Somebody may begin to look at any moment and looks for a second (the rule
 * stands in flash_count.h). The invariant, after every frame, for each look
 * that is not over and every series of light:
 *
 *     transitions counted + (1 if a fall would be one more) <= 2 N
 *
 * so a fall always has its place, and only rises have to be asked about. Time
 * only ends looks.
 *
 * Between two frames nobody knows what the light does. A controller may change
 * all channels at once, or let those that fall slide down while those that rise
 * jump up at the end, as the ramps file has it. Where one channel hands over to
 * another the light then dips on its way, by anything up to all of the falls:
 *
 *     before ____            ____
 *                \___ now        \    ___ now
 *                                 \__|     low
 *       at once            falls first
 *
 * So a series may be up and down at the same time, with a range of peaks and a
 * range of valleys, and all turns that are possible are counted; turns of the
 * same direction that follow each other are one.
 *
 * "Any group" turns whenever one of branches, floods and groups turns against
 * the direction of the last. Where groups turn both ways in one frame nobody
 * can say which came first; then the order that turns most often is taken, and
 * the heading counts as open: whatever comes next is a turn.
 *
 * Looks begin at frames. For a single series a look that begins on the way from
 * frame to frame finds no more; "any group" may then count more, where two
 * series cross 10 % in another order. Lamps that are told a level a frame, as
 * dimmers are, know no way between.
 *
 * A loop: the last frame is black, as is the time before the first, so every
 * look goes on in the next lap as one that begins with it. */
#ifndef TC_ROOM_H
#define TC_ROOM_H

#include "thundercue.h"

struct room;

struct room_for {
    size_t tracks;       /* series of light; the first is not part of "any group" */
    double transition;   /* changes from here on count */
    int64_t limit;       /* flashes in a second */
    int64_t window;      /* the second in light frames, and what it is taken longer */
    int64_t frames;      /* in a lap */
    bool loop;
};

/* It is dark before the first frame. TC_ERR_MEMORY. */
enum tc_status room_create(struct room **out, const struct room_for *what);
void room_destroy(struct room *r);

/* Begins the next frame. */
void room_begin(struct room *r);
/* Would this frame break the rule? By track: `low` when all falls are done and
 * no rise yet, `value` at its end. For tracks with a rise that has no room sets
 * refused[s], and lowers floor[s] to where that rise would be measured from;
 * true if anything came of it that was not there before. `spare`: flashes that
 * are to stay free. */
bool room_refuses(const struct room *r, const double *low, const double *value, int64_t spare, bool *refused,
                  double *floor);
/* In a loop: true if the track must be dark in this frame at the latest, since
 * the next lap leaves no place for a later fall. */
bool room_must_be_dark(const struct room *r, size_t track);
/* Ends the frame with what the light does in it. */
void room_take(struct room *r, const double *low, const double *value);
/* False once a frame was taken that breaks the rule, although it had been asked about: a mistake of this library. */
bool room_holds(const struct room *r);

#endif
