/* A running order; what was read is written and read again. */
#include <string.h>

#include "app/night/night_order.h"
#include "fuzz.h"

struct text {
    char bytes[1 << 18];
    size_t size;
};

static enum tc_status put(void *to, const char *bytes, size_t size)
{
    struct text *t = to;
    if (size > sizeof t->bytes - t->size) return TC_ERR_WRITE;
    memcpy(t->bytes + t->size, bytes, size);
    t->size += size;
    return TC_OK;
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    static const char *const files[] = { "a.wav", "far, away.flac", "=b.ogg" };
    static const struct night_clip clips[] = { { 1, 0 }, { 30000, 50 }, { 1000000, 100 } };
    static const double gains[] = { -3, 0, 2 }, most[] = { 30, 0, 2.5 };
    static struct text text;
    struct night_list list = { files, clips, gains, most, 3 };
    struct night_plan p, again;
    struct tc_problem why = { "" };
    struct night_ground ground = { .seed = 1, .day_s = NIGHT_NO_DAY }, same = ground;
    enum tc_status status = night_order_read((const char *)data, size, "fuzz", &list, &p, &ground, &why);
    FUZZ_CHECK(ground.day_s >= NIGHT_NO_DAY && ground.day_s < NIGHT_DAY_S);
    FUZZ_CHECK(status == TC_OK || (status == TC_ERR_FORM && *why.text && !p.count));
    for (size_t i = 0; i < p.count; i++) {
        const struct night_turn *t = &p.turns[i];
        FUZZ_CHECK(t->clip < 3 && t->start_ms >= 0 && t->end_ms > t->start_ms);
        FUZZ_CHECK(t->end_ms - t->start_ms <= clips[t->clip].length_ms && t->gain_db <= most[t->clip] + 1e-9);
        FUZZ_CHECK(!i || t->start_ms >= p.turns[i - 1].start_ms);
    }
    text.size = 0;
    if (status == TC_OK && night_order_write(&p, &list, ground, (struct tc_sink){ put, &text }) == TC_OK) {
        FUZZ_CHECK(night_order_read(text.bytes, text.size, "again", &list, &again, &same, &why) == TC_OK);
        FUZZ_CHECK(again.count == p.count && same.seed == ground.seed && same.day_s == ground.day_s);
        for (size_t i = 0; i < p.count; i++)
            FUZZ_CHECK(again.turns[i].start_ms == p.turns[i].start_ms && again.turns[i].end_ms == p.turns[i].end_ms
                       && again.turns[i].clip == p.turns[i].clip && again.turns[i].storm == p.turns[i].storm);
        night_plan_clear(&again);
    }
    night_plan_clear(&p);
    return 0;
}
