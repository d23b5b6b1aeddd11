/* Rigs filled in by hand, against the words of thundercue.h: what is wrong is
 * refused by every call that takes a rig, before it is used. */
#include "check.h"

#include "thundercue.h"

static enum tc_status take_nothing(void *to, const char *bytes, size_t size)
{
    (void)to, (void)bytes, (void)size;
    return TC_OK;
}

/* A refusal says what of the rig is wrong. */
static void expect(enum tc_status got, enum tc_status want, const char *call, const char *what, struct tc_problem *why)
{
    if (got != want) fail_msg("%s: %s: status %d, %s", call, what, got, why->text);
    if (want != TC_OK && strncmp(why->text, "the rig", 7)) fail_msg("%s: %s: says '%s'", call, what, why->text);
    *why = (struct tc_problem){ "" };
}

static void expect_all(const struct tc_rig *rig, enum tc_status want, const char *what)
{
    struct tc_event crack = { .kind = TC_CRACK, .start_ms = 500, .end_ms = 500, .peak_ms = 500, .strength = 1,
                              .sharpness = 1 };
    struct tc_analysis a = { .events = &crack, .event_count = 1, .length_ms = 2000 };
    struct tc_timeline plan, empty = { .frame_rate = 40, .frames = 2 };
    struct tc_player *player;
    struct tc_check check;
    struct tc_problem why = { "" };
    static const char table[] = "time_s,a\r\n0.000,0.0\r\n";
    struct tc_sink nowhere = { take_nothing, NULL };
    expect(tc_cue(&a, rig, NULL, NULL, &plan, &why), want, "tc_cue", what, &why);
    tc_timeline_clear(&plan);
    expect(tc_player_create(&player, &empty, rig, NULL, &why), want, "tc_player_create", what, &why);
    tc_player_destroy(player);
    expect(tc_check_run(&empty, rig, NULL, NULL, &check, &why), want, "tc_check_run", what, &why);
    tc_check_clear(&check);
    expect(tc_frames_write(&empty, rig, NULL, NULL, nowhere, &why), want, "tc_frames_write", what, &why);
    expect(tc_ramps_write(&empty, rig, NULL, NULL, nowhere, &why), want, "tc_ramps_write", what, &why);
    expect(tc_rig_write(rig, nowhere, &why), want, "tc_rig_write", what, &why);
    if (want == TC_OK) return; /* the table below is no timeline of a good rig */
    expect(tc_check_frames(table, sizeof table - 1, "t.csv", rig, NULL, NULL, &check, &why), want, "tc_check_frames",
           what, &why);
    tc_check_clear(&check);
}

static struct tc_rig rig_whole(void)
{
    struct tc_rig rig;
    assert_int_equal(tc_rig_builtin(&rig), TC_OK);
    return rig;
}

#define REFUSED(change)                                \
    do {                                               \
        struct tc_rig rig = rig_whole();               \
        struct tc_channel *c = &rig.channels[3];       \
        change;                                        \
        (void)c;                                       \
        expect_all(&rig, TC_ERR_RIG, #change);         \
        tc_rig_clear(&rig);                            \
    } while (0)

static void what_cannot_be_is_refused_by_every_call(void **state)
{
    (void)state;
    struct tc_rig fine = rig_whole();
    expect_all(&fine, TC_OK, "the built-in rig");
    tc_rig_clear(&fine);
    REFUSED(c->group = (int)rig.group_count);
    REFUSED(c->group = -2);
    REFUSED(c->parent = 16);
    REFUSED(c->parent = -2);
    REFUSED(c->parent = 15); /* a flood */
    REFUSED(c->parent = 3);  /* itself */
    REFUSED(rig.channels[0].parent = 3; c->parent = 0);
    REFUSED(c->circuit = 1);
    REFUSED(c->number = 0);
    REFUSED(c->number = 513);
    REFUSED(c->number = 3); /* that of the one before */
    REFUSED(c->kind = (enum tc_channel_kind)2);
    REFUSED(c->curve = (enum tc_curve)3);
    REFUSED(c->lamp = (enum tc_lamp)-1);
    REFUSED(c->min_level = 100);
    REFUSED(c->max_level = 100.5);
    REFUSED(c->watts = -1);
    REFUSED(c->watts = (double)NAN);
    REFUSED(c->lead_ms = (double)INFINITY);
    REFUSED(c->slot = -1);
    REFUSED(memset(c->name, 'x', sizeof c->name));
    REFUSED(memset(rig.circuits[0].name, 'x', sizeof rig.circuits[0].name));
    REFUSED(rig.network.universe = 64000);
    REFUSED(rig.network.priority = 201);
}

static void more_channels_than_there_are_numbers_are_refused(void **state)
{
    (void)state;
    struct tc_channel *channels = calloc(TC_MAX_CHANNELS + 1, sizeof *channels);
    assert_non_null(channels);
    for (int i = 0; i <= TC_MAX_CHANNELS; i++)
        channels[i] = (struct tc_channel){ .number = i + 1, .kind = TC_FLOOD, .parent = -1, .group = -1, .watts = 5,
                                           .max_level = 100 };
    struct tc_circuit circuit = { "a", 15, 120 };
    struct tc_rig rig = { .channels = channels, .channel_count = TC_MAX_CHANNELS, .circuits = &circuit,
                          .circuit_count = 1 };
    expect_all(&rig, TC_OK, "512 channels");
    rig.channel_count++;
    expect_all(&rig, TC_ERR_RIG, "513 channels");
    free(channels);
}

static void a_path_longer_than_its_room_is_refused(void **state)
{
    (void)state;
    struct tc_event crack = { .kind = TC_CRACK, .path_count = TC_PATH_MAX_CHANNELS };
    struct tc_analysis a = { .events = &crack, .event_count = 1 };
    struct tc_problem why;
    assert_int_equal(tc_events_write(&a, (struct tc_sink){ take_nothing, NULL }, NULL), TC_OK);
    crack.path_count++;
    assert_int_equal(tc_events_write(&a, (struct tc_sink){ take_nothing, NULL }, &why), TC_ERR_USAGE);
    assert_string_equal(why.text, "the analysis' events[0]: its path_count is 17; 0 to 16 are possible");
    crack.path_count = -1;
    assert_int_equal(tc_events_write(&a, (struct tc_sink){ take_nothing, NULL }, NULL), TC_ERR_USAGE);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_cannot_be_is_refused_by_every_call),
        cmocka_unit_test(more_channels_than_there_are_numbers_are_refused),
        cmocka_unit_test(a_path_longer_than_its_room_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
