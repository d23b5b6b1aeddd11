/* What a sound file tells about itself before anything is decoded: its kind by
 * its first bytes, and where its header says that the sound begins and ends.
 * Knows RIFF/WAVE, RIFX and RF64 (EBU Tech 3306), AIFF, 8SVX, W64 and AU, whose
 * writers are often cut short or never get to fill in the size, Ogg (RFC 3533),
 * FLAC (RFC 9639) and MPEG audio (ISO 11172-3). */
#ifndef TC_CONTAINER_H
#define TC_CONTAINER_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

enum container_kind {
    CONTAINER_UNKNOWN, CONTAINER_WAV, CONTAINER_RIFX, CONTAINER_RF64, CONTAINER_AIFF, CONTAINER_SVX, CONTAINER_W64,
    CONTAINER_CAF,
    CONTAINER_AU, CONTAINER_OGG, CONTAINER_FLAC, CONTAINER_MPEG,
    CONTAINER_FOREIGN   /* sound, but of a kind that isn't read here; `name` says which */
};

/* How the declared size of the sound fits what is there. */
enum container_fit {
    CONTAINER_WHOLE,    /* it fits, or the kind declares none */
    CONTAINER_CUT,      /* the file ends before the sound does */
    CONTAINER_OPEN,     /* no size was filled in: to the end of the file */
    CONTAINER_LONGER,   /* more sound is there than the field for the size can say */
    CONTAINER_BEHIND    /* something follows it that is no part of it */
};

struct container {
    enum container_kind kind;
    enum container_fit fit;
    const char *name;         /* of a foreign kind, else NULL */
    int64_t file_size;
    int64_t sound_at;         /* where the sound begins; 0 = not known */
    int64_t sound_size;       /* bytes of sound that are there, whatever is declared */
    int64_t declared_size;    /* of an unknown kind: bytes that the whole file has by its header; -1 = not known */
    int64_t behind;           /* CONTAINER_BEHIND: how many bytes */
    int64_t last_granule;     /* Ogg: the position on the last page; -1 = none */
    bool declares_nothing;    /* CONTAINER_OPEN: the size is 0, as an interrupted writer leaves it */
    bool constant_rate;       /* MPEG: an Info tag says that all frames are of one size */
};

/* Looks at an open file; leaves its position anywhere. */
void container_look(FILE *file, struct container *out);

#endif
