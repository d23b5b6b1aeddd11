#include "app/clip/page_sound.h"

#include <stdlib.h>

#include "io/sound/encode.h"

/* Up to here a recording goes into the page: as it is, or encoded. */
enum { OWN_BYTES_MOST = 8 * 1024 * 1024, ENCODED_S_MOST = 10 * 60 };

struct page_sound {
    struct source *source;
    const char *own_type;      /* NULL if it is not the recording's own bytes */
    struct encoder *encoder;   /* NULL with own bytes, or once it was too long */
    double left;               /* sample frames that may still be encoded */
};

enum tc_status page_sound_create(struct page_sound **out, struct source *source)
{
    struct page_sound *p = calloc(1, sizeof *p);
    if (!p) return TC_ERR_MEMORY;
    double rate = source_rate(source);
    p->source = source;
    p->left = ENCODED_S_MOST * rate;
    if (source_size(source) <= OWN_BYTES_MOST) p->own_type = source_browser_type(source);
    enum tc_status status = TC_OK;
    if (!p->own_type && (double)source_frames(source) <= p->left)
        status = encoder_create(&p->encoder, rate, source_channels(source));
    if (status == TC_OK) *out = p;
    else free(p);
    return status;
}

enum tc_status page_sound_take(void *sound, const float *samples, size_t frames)
{
    struct page_sound *p = sound;
    if (!p->encoder) return TC_OK;
    p->left -= (double)frames;
    if (p->left >= 0) return encoder_push(p->encoder, samples, frames);
    encoder_destroy(p->encoder); /* its length was not known before */
    p->encoder = NULL;
    return TC_OK;
}

enum tc_status page_sound_finish(struct page_sound *p)
{
    return p->encoder ? encoder_finish(p->encoder) : TC_OK;
}

FILE *page_sound_bytes(struct page_sound *p)
{
    return p->own_type ? source_bytes(p->source) : p->encoder ? encoder_bytes(p->encoder) : NULL;
}

const char *page_sound_type(const struct page_sound *p)
{
    return p->own_type ? p->own_type : encoder_type();
}

bool page_sound_is_own(const struct page_sound *p)
{
    return p->own_type != NULL;
}

void page_sound_destroy(struct page_sound *p)
{
    if (p) encoder_destroy(p->encoder);
    free(p);
}
