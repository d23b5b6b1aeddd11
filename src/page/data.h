/* What a page shows, as JSON: made here for the program, which puts it into
 * the page it writes, and for the page's own core, which makes it anew after
 * every change. */
#ifndef TC_DATA_H
#define TC_DATA_H

#include "page/ramps.h"
#include "words/model.h"

/* A part of the data that somebody else puts in: an entry of the object. */
struct page_part {
    void (*put)(struct json *j, const void *of);   /* NULL = none */
    const void *of;
};

/* A note of a page. */
#define PAGE_NEVER_LIT "Some channels of the rig never light in this timeline."

/* What the page shows besides. All borrowed. */
struct page_facts {
    const char *title;               /* the stem */
    const char *recording;           /* its name as shown; NULL = from events alone */
    const char *command;             /* that makes the same page again; NULL = none */
    const struct tc_rig *rig;
    const struct tc_settings *settings;
    const struct tc_analysis *heard;
    const struct tc_timeline *timeline;
    const struct columns *columns;
    const struct flash_report *flash;
    const struct load_report *load;  /* its moments include the shift */
    double sound_late_s;             /* the sound starts this long after the light */
    const char *sound_kind;          /* "embedded", "file" or "none" */
    bool sound_own;                  /* an embedded one is the recording as it was, byte for byte */
    const char *sound_type;          /* of an embedded one, e.g. "audio/mpeg" */
    const char *sound_link;          /* of a file: a relative reference */
    const char *const *notes;        /* sentences for the user, ended by NULL */
    const char *rig_text;            /* the rig file; NULL = the built-in rig */
    const char *closed;              /* why the page is for looking only; NULL = it carries what cueing anew takes */
    struct page_part part;
};

/* Errors are the sink's, or TC_ERR_MEMORY. */
enum tc_status page_data_write(struct tc_sink to, const struct page_ramps *ramps, const struct page_facts *facts);

/* The events alone, in the form that the data has them in. */
enum tc_status page_events_write(struct tc_sink to, const struct tc_analysis *a);

/* The table of settings: [{name, type, topic, preset, least, most, unit, zero, help}]. */
enum tc_status page_settings_table(struct tc_sink to);

#endif
