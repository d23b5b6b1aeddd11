/* A rig file; the rig that comes of it plays a little storm, and is written,
 * read and written again: the same bytes. */
#include "fuzz.h"

#include "rig/rig_keep.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

struct text {
    char *bytes;
    size_t size;
};

static enum tc_status keep(void *to, const char *bytes, size_t size)
{
    struct text *t = to;
    FUZZ_CHECK((t->bytes = realloc(t->bytes, t->size + size + 1)) != NULL);
    memcpy(t->bytes + t->size, bytes, size);
    t->size += size;
    return TC_OK;
}

static void write_and_read(const struct tc_rig *rig)
{
    struct text one = { NULL, 0 }, two = { NULL, 0 };
    struct tc_rig again;
    struct tc_problem why = { "" };
    FUZZ_CHECK(tc_rig_write(rig, (struct tc_sink){ keep, &one }, NULL) == TC_OK);
    FUZZ_CHECK(tc_rig_read(one.bytes, one.size, "again", &again, &why) == TC_OK);
    FUZZ_CHECK(again.channel_count == rig->channel_count && again.circuit_count == rig->circuit_count);
    FUZZ_CHECK(tc_rig_write(&again, (struct tc_sink){ keep, &two }, NULL) == TC_OK);
    FUZZ_CHECK(one.size == two.size && !memcmp(one.bytes, two.bytes, one.size));
    tc_rig_clear(&again);
    free(one.bytes);
    free(two.bytes);
}

/* Into its own text: the same bytes; with a change: what reads back as the changed rig. */
static void keep_text(struct tc_rig *rig, const char *data, size_t size)
{
    struct text same = { NULL, 0 }, other = { NULL, 0 }, one = { NULL, 0 }, two = { NULL, 0 };
    struct tc_rig again;
    bool kept;
    FUZZ_CHECK(rig_keep(rig, data, size, "fuzz", (struct tc_sink){ keep, &same }, &kept, NULL) == TC_OK);
    FUZZ_CHECK(kept && same.size == size && !memcmp(same.bytes, data, size));
    struct tc_channel *last = &rig->channels[rig->channel_count - 1];
    last->watts = last->watts > 1 ? last->watts / 2 : 1;
    last->lead_ms = last->lead_ms > 0 ? 0 : 5;
    last->number = last->number < TC_MAX_CHANNELS ? last->number + 1 : last->number;
    snprintf(rig->circuits[0].name, sizeof rig->circuits[0].name, "renamed by fuzz");
    enum tc_status status = rig_keep(rig, data, size, "fuzz", (struct tc_sink){ keep, &other }, &kept, NULL);
    FUZZ_CHECK(status == TC_OK || status == TC_ERR_RIG); /* a bank or a slot may speak against the number */
    if (status == TC_OK && tc_rig_read(other.bytes, other.size, "fuzz", &again, NULL) == TC_OK) {
        FUZZ_CHECK(tc_rig_write(rig, (struct tc_sink){ keep, &one }, NULL) == TC_OK);
        FUZZ_CHECK(tc_rig_write(&again, (struct tc_sink){ keep, &two }, NULL) == TC_OK);
        FUZZ_CHECK(one.size == two.size && !memcmp(one.bytes, two.bytes, one.size));
        tc_rig_clear(&again);
    } else {
        FUZZ_CHECK(!kept);
    }
    free(same.bytes);
    free(other.bytes);
    free(one.bytes);
    free(two.bytes);
}

int LLVMFuzzerTestOneInput(const uint8_t *data, size_t size)
{
    struct tc_rig rig;
    struct tc_problem why = { "" };
    enum tc_status status = tc_rig_read((const char *)data, size, "fuzz", &rig, &why);
    FUZZ_CHECK(status == TC_OK || status == TC_ERR_RIG);
    FUZZ_CHECK(status == TC_OK || *why.text);
    if (status == TC_OK) {
        FUZZ_CHECK(rig.channel_count <= TC_MAX_CHANNELS);
        write_and_read(&rig);
        struct tc_settings s = tc_settings_default();
        struct tc_analysis heard = fuzz_events();
        fuzz_play(&heard, &rig, &s);
        tc_analysis_clear(&heard);
        keep_text(&rig, (const char *)data, size);
    }
    tc_rig_clear(&rig);
    return 0;
}
