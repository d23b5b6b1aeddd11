#include "page/analysis.h"

#include <string.h>

#include "words/memory.h"

/* length_ms, sample rate, frame rate, sensitivity (8 bytes each), channels, candidates, envelope (4 each), then the
 * candidates (at_ms as 4 bytes, four floats) and the envelope. */
enum { HEAD_BYTES = 44, CANDIDATE_BYTES = 20 };

/* Numbers lie in it as little-endian machines keep them. */
static unsigned char *put_bits(unsigned char *to, const void *number, size_t size)
{
    memcpy(to, number, size);
    return to + size;
}

static const unsigned char *get_bits(void *number, const unsigned char *from, size_t size)
{
    memcpy(number, from, size);
    return from + size;
}

size_t page_analysis_size(const struct tc_analysis *a)
{
    return HEAD_BYTES + CANDIDATE_BYTES * a->candidate_count + a->envelope_count;
}

void page_analysis_pack(const struct tc_analysis *a, unsigned char *to)
{
    uint32_t counts[3] = { (uint32_t)a->channels, (uint32_t)a->candidate_count, (uint32_t)a->envelope_count };
    to = put_bits(to, &a->length_ms, 8);
    to = put_bits(to, &a->sample_rate, 8);
    to = put_bits(to, &a->frame_rate, 8);
    to = put_bits(to, &a->sensitivity, 8);
    to = put_bits(to, counts, sizeof counts);
    for (size_t i = 0; i < a->candidate_count; i++) {
        const struct tc_candidate *c = &a->candidates[i];
        int32_t at_ms = (int32_t)c->at_ms;
        to = put_bits(to, &at_ms, 4);
        to = put_bits(to, &c->found_at, 4);
        to = put_bits(to, &c->loudness, 4);
        to = put_bits(to, &c->sharpness, 4);
        to = put_bits(to, &c->level_dbfs, 4);
    }
    if (a->envelope_count) put_bits(to, a->envelope, a->envelope_count);
}

enum tc_status page_analysis_unpack(struct tc_analysis *out, const unsigned char *from, size_t size)
{
    uint32_t counts[3];
    memset(out, 0, sizeof *out);
    if (size < HEAD_BYTES) return TC_ERR_FORM;
    get_bits(counts, from + HEAD_BYTES - sizeof counts, sizeof counts);
    if (size != HEAD_BYTES + (uint64_t)CANDIDATE_BYTES * counts[1] + counts[2]) return TC_ERR_FORM;
    from = get_bits(&out->length_ms, from, 8);
    from = get_bits(&out->sample_rate, from, 8);
    from = get_bits(&out->frame_rate, from, 8);
    from = get_bits(&out->sensitivity, from, 8);
    from = get_bits(counts, from, sizeof counts);
    out->channels = (int)counts[0];
    out->candidates = memory_new(counts[1] + 1, sizeof *out->candidates);
    out->envelope = memory_new((size_t)counts[2] + 1, 1);
    if (!out->candidates || !out->envelope) {
        tc_analysis_clear(out);
        return TC_ERR_MEMORY;
    }
    out->candidate_count = counts[1];
    out->envelope_count = counts[2];
    for (size_t i = 0; i < out->candidate_count; i++) {
        struct tc_candidate *c = &out->candidates[i];
        int32_t at_ms;
        from = get_bits(&at_ms, from, 4);
        from = get_bits(&c->found_at, from, 4);
        from = get_bits(&c->loudness, from, 4);
        from = get_bits(&c->sharpness, from, 4);
        from = get_bits(&c->level_dbfs, from, 4);
        c->at_ms = at_ms;
    }
    get_bits(out->envelope, from, out->envelope_count);
    return TC_OK;
}

enum tc_status page_overview_unpack(struct tc_analysis *a, const unsigned char *from, size_t size)
{
    uint32_t counts[3];
    if (size < sizeof counts) return TC_ERR_FORM;
    from = get_bits(counts, from, sizeof counts);
    size_t columns = counts[0], bands = counts[2];
    if (columns > TC_OVERVIEW_COLUMNS || bands > TC_OVERVIEW_BANDS || size != sizeof counts + columns + columns * bands) return TC_ERR_FORM;
    struct tc_overview *o = memory_new(1, sizeof *o);
    if (!o) return TC_ERR_MEMORY;
    o->count = columns;
    o->steps_each = counts[1];
    from = get_bits(o->peak, from, columns);
    for (size_t c = 0; c < columns && bands; c++) from = get_bits(o->band[c], from, bands);
    memory_free(a->overview);
    a->overview = o;
    return TC_OK;
}
