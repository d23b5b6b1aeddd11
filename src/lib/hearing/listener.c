/* The first of the three plain steps: samples in, analysis out. It joins the
 * stages analyse, cracks, rumbles and envelope. */
#include <math.h>
#include <string.h>

#include "hearing/analyse.h"
#include "hearing/cracks.h"
#include "hearing/envelope.h"
#include "hearing/rumbles.h"
#include "words/memory.h"
#include "words/settings.h"

struct tc_listener {
    struct analyser *analyser;
    struct cracks *cracks;
    struct rumbles *rumbles;
    struct envelope *envelope;
    double rate, sensitivity;
    int channels;
};

enum tc_status tc_listener_create(struct tc_listener **out, const struct tc_settings *s,
                                  double rate, int channels)
{
    *out = NULL;
    struct tc_settings settings;
    enum tc_status status = settings_take(&settings, s, NULL);
    if (status != TC_OK) return status;
    struct tc_listener *l = memory_new(1, sizeof *l);
    if (!l) return TC_ERR_MEMORY;
    l->rate = rate;
    l->channels = channels;
    l->sensitivity = settings.sensitivity;
    status = analyser_create(&l->analyser, rate, channels);
    if (status == TC_OK) status = cracks_create(&l->cracks);
    if (status == TC_OK) status = rumbles_create(&l->rumbles);
    if (status == TC_OK) status = envelope_create(&l->envelope, settings.frame_rate);
    if (status != TC_OK) {
        tc_listener_destroy(l);
        return status;
    }
    *out = l;
    return TC_OK;
}

static enum tc_status take(struct tc_listener *l, const struct hearing *h)
{
    enum tc_status status = cracks_step(l->cracks, h);
    if (status == TC_OK) status = rumbles_step(l->rumbles, h);
    return status == TC_OK ? envelope_step(l->envelope, h) : status;
}

enum tc_status tc_listener_push(struct tc_listener *l, const float *samples, size_t frames)
{
    struct span in = { samples, frames };
    struct hearing h;
    enum tc_status status = TC_OK;
    while (status == TC_OK && analyser_step(l->analyser, &in, &h)) status = take(l, &h);
    return status;
}

enum tc_status tc_listener_finish(struct tc_listener *l, struct tc_analysis *out)
{
    struct hearing h;
    enum tc_status status = TC_OK;
    memset(out, 0, sizeof *out);
    while (status == TC_OK && analyser_flush(l->analyser, &h)) status = take(l, &h);
    out->length_ms = (int64_t)ceil((double)analyser_taken(l->analyser) * 1000.0 / l->rate);
    out->sample_rate = l->rate;
    out->channels = l->channels;
    out->bad_samples = analyser_bad_samples(l->analyser);
    if (status == TC_OK) status = cracks_finish(l->cracks, out);
    if (status == TC_OK) status = rumbles_finish(l->rumbles, out->length_ms, out);
    if (status == TC_OK) status = envelope_finish(l->envelope, out);
    if (status == TC_OK) status = tc_analysis_choose(out, l->sensitivity);
    if (status != TC_OK) tc_analysis_clear(out);
    return status;
}

void tc_listener_destroy(struct tc_listener *l)
{
    if (!l) return;
    analyser_destroy(l->analyser);
    cracks_destroy(l->cracks);
    rumbles_destroy(l->rumbles);
    envelope_destroy(l->envelope);
    memory_free(l);
}
