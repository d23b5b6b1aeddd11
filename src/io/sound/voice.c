#include "io/sound/voice.h"

#include <stdlib.h>
#include <string.h>

#include "io/sound/stereo.h"

enum { SIDES = 2, READ = 2048 };

struct voice {
    struct source *source;
    struct stereo *stereo;
    float *block;              /* as read */
    float *ready;              /* converted and not fetched yet: from `at` to `count` */
    size_t at, count, room;
    bool ended;
};

/* From the converter: kept until it is fetched. */
static enum tc_status keep(void *to, float *pair, size_t frames)
{
    struct voice *v = to;
    if (v->count + frames > v->room) {
        size_t room = v->count + frames;
        float *more = realloc(v->ready, room * SIDES * sizeof *more);
        if (!more) return TC_ERR_MEMORY;
        v->ready = more;
        v->room = room;
    }
    memcpy(v->ready + SIDES * v->count, pair, frames * SIDES * sizeof *pair);
    v->count += frames;
    return TC_OK;
}

enum tc_status voice_open(struct voice **out, struct source *source, int rate)
{
    struct voice *v = *out = calloc(1, sizeof *v);
    enum tc_status status = TC_ERR_MEMORY;
    if (!v) source_close(source);
    else v->source = source;
    if (v && (v->block = calloc((size_t)READ * (size_t)source_channels(source), sizeof *v->block)))
        status = stereo_create(&v->stereo, source_channels(source), source_rate(source), rate, keep, v);
    if (status == TC_OK) return status;
    voice_close(v);
    *out = NULL;
    return status;
}

/* Reads until there is something ready, or nothing more to come. */
static enum tc_status fill(struct voice *v)
{
    enum tc_status status = TC_OK;
    v->at = v->count = 0;
    while (status == TC_OK && !v->count && !v->ended) {
        size_t n = source_read(v->source, v->block, READ);
        v->ended = n == 0;
        status = n ? stereo_push(v->stereo, v->block, n) : stereo_finish(v->stereo);
    }
    return status;
}

enum tc_status voice_read(struct voice *v, float *pair, size_t frames, size_t *got)
{
    enum tc_status status = TC_OK;
    *got = 0;
    while (status == TC_OK && *got < frames && (v->at < v->count || !v->ended)) {
        if (v->at == v->count) status = fill(v);
        size_t part = v->count - v->at < frames - *got ? v->count - v->at : frames - *got;
        if (part) memcpy(pair + SIDES * *got, v->ready + SIDES * v->at, part * SIDES * sizeof *pair);
        v->at += part;
        *got += part;
    }
    return status;
}

void voice_close(struct voice *v)
{
    if (!v) return;
    source_close(v->source);
    stereo_destroy(v->stereo);
    free(v->block);
    free(v->ready);
    free(v);
}
