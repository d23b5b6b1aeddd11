#include "app/night/night_pack.h"

#include <stdlib.h>
#include <string.h>

#include "page/analysis.h"
#include "words/memory.h"

/* Head, note, events, and the rest of the analysis. Neither has gaps between its fields. */
struct head {
    double rate, lufs, peak_db;
    int64_t frames, bad_samples;
    uint32_t note_size, event_count;
};
struct packed_event {
    int64_t start_ms, end_ms, peak_ms;
    float strength, sharpness, level_dbfs;
    int32_t kind;
};
_Static_assert(sizeof(struct head) == 48 && sizeof(struct packed_event) == 40, "no gaps");

enum tc_status night_pack(const struct night_recording *r, char **bytes, size_t *size)
{
    const struct tc_analysis *a = &r->heard;
    struct head head = { r->rate, r->lufs, r->peak_db, r->frames, a->bad_samples, (uint32_t)strlen(r->note.text),
                         (uint32_t)a->event_count };
    *size = sizeof head + head.note_size + a->event_count * sizeof(struct packed_event) + page_analysis_size(a);
    char *to = *bytes = malloc(*size);
    if (!to) return TC_ERR_MEMORY;
    memcpy(to, &head, sizeof head);
    memcpy(to += sizeof head, r->note.text, head.note_size);
    to += head.note_size;
    for (size_t i = 0; i < a->event_count; i++, to += sizeof(struct packed_event)) {
        const struct tc_event *e = &a->events[i];
        struct packed_event p = { e->start_ms, e->end_ms, e->peak_ms, e->strength, e->sharpness, e->level_dbfs,
                                  (int32_t)e->kind };
        memcpy(to, &p, sizeof p);
    }
    page_analysis_pack(a, (unsigned char *)to);
    return TC_OK;
}

/* Where the events begin; NULL if the bytes don't hold what the head says. */
static const char *read_head(struct head *head, const char *bytes, size_t size)
{
    if (size < sizeof *head) return NULL;
    memcpy(head, bytes, sizeof *head);
    size_t most = size - sizeof *head;
    if (head->note_size >= sizeof((struct tc_problem *)0)->text || head->note_size > most) return NULL;
    if (head->event_count > (most - head->note_size) / sizeof(struct packed_event)) return NULL;
    return bytes + sizeof *head + head->note_size;
}

double night_pack_rate(const char *bytes, size_t size)
{
    struct head head;
    return read_head(&head, bytes, size) ? head.rate : 0;
}

enum tc_status night_unpack(struct night_recording *r, const char *bytes, size_t size)
{
    struct head head;
    const char *from = read_head(&head, bytes, size);
    if (!from) return TC_ERR_FORM;
    const char *rest = from + head.event_count * sizeof(struct packed_event);
    enum tc_status status = page_analysis_unpack(&r->heard, (const unsigned char *)rest, size - (size_t)(rest - bytes));
    if (status != TC_OK) return status;
    if (!(r->heard.events = memory_new(head.event_count + (size_t)1, sizeof *r->heard.events))) {
        tc_analysis_clear(&r->heard);
        return TC_ERR_MEMORY;
    }
    for (; r->heard.event_count < head.event_count; from += sizeof(struct packed_event)) {
        struct packed_event p;
        memcpy(&p, from, sizeof p);
        r->heard.events[r->heard.event_count++] = (struct tc_event){
            .kind = p.kind == TC_RUMBLE ? TC_RUMBLE : TC_CRACK, .start_ms = p.start_ms, .end_ms = p.end_ms,
            .peak_ms = p.peak_ms,
            .strength = p.strength, .sharpness = p.sharpness, .level_dbfs = p.level_dbfs };
    }
    r->heard.bad_samples = head.bad_samples;
    r->rate = head.rate;
    r->lufs = head.lufs;
    r->peak_db = head.peak_db;
    r->frames = head.frames;
    memcpy(r->note.text, bytes + sizeof head, head.note_size);
    r->note.text[head.note_size] = 0;
    return TC_OK;
}
