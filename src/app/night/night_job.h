/* An evening of storms: what to build, and what came of it. */
#ifndef TC_NIGHT_JOB_H
#define TC_NIGHT_JOB_H

#include "app/clip/job.h"
#include "app/night/night_plan.h"
#include "app/night/night_times.h"
#include "io/sound/joined_sound.h"

struct night_job {
    const char *folder;
    const char *out;              /* NAME, with a folder before it if need be */
    const char *events;           /* a folder of edited events files, looked into before that of the
                                     recordings; or NULL */
    const char *order;            /* a running order to build from, or NULL */
    const char *opening, *closing;/* file names within the folder, or NULL */
    struct night_wish wish;       /* all but the clips and the seed; ignored if `order` is given */
    int day_s;                    /* the time of day at which it starts, or NIGHT_NO_DAY */
    int64_t lufs;                 /* the loudness that clips are set to */
    const char *under;            /* a track beneath, or NULL */
    int64_t under_level, under_dip; /* against the clips' loudness; lower by so much while they sound, dB */
    bool under_once;
    enum joined_form form;
    int bits;                     /* of a sample, 16 or 24 */
    size_t jobs;                  /* threads that listen */
    const char *rig_path;
    struct inputs *inputs;        /* recordings are added to it */
    enum ledger_over over;
    bool preview;                 /* a page too */
    const char *json;             /* a report for machines, too; or NULL */
};

/* What holds where the user says nothing. */
#define NIGHT_LUFS_USUAL -23
#define NIGHT_UNDER_LEVEL_USUAL -10
#define NIGHT_UNDER_DIP_USUAL 12

/* A recording of the folder. */
struct night_recording {
    char *file, *path;            /* name, and with the folder */
    struct tc_analysis heard;
    int64_t frames;               /* sample frames */
    double rate;
    double lufs, peak_db;         /* as measured: BS.1770, true peak */
    double gain_db, gain_most_db; /* what sets it to the loudness wished, and what its peak leaves room for */
    struct tc_problem note;       /* what the user should know of it */
    enum tc_status status;        /* not TC_OK: left out, and the note says why */
};

/* What came of it. */
struct night_outcome {
    struct night_recording *recordings;
    size_t recording_count;
    struct night_recording under; /* the track beneath; its file is NULL where there is none */
    int rate;                     /* of the sound, Hz */
    struct night_plan plan;
    int day_s;                    /* the time of day at which it starts, or NIGHT_NO_DAY */
    int order_day_s;              /* the same by the clocks of the order that it was built from */
    size_t clocks_off;            /* rows of that order whose clock doesn't fit their start */
    struct joined_sum sound;
    struct job job;               /* of the timeline, as the report takes it */
    struct outcome light;
    char *folder, *stem;          /* NAME in two */
    char *sound_path, *order_path;/* written; order_path NULL where it was built from */
    size_t quieter, left_out;     /* clips that their peaks keep quieter; that could not be heard */
};

#endif
