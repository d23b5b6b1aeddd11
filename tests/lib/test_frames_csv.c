/* frames.csv to the byte, from a sink. Expected bytes are written by hand from
 * the words of the file's form: RFC 4180, '.' as decimal point, CR LF. */
#include "check.h"

#include <stdio.h>

#include "writing/frames_csv.h"

static enum tc_status append(void *to, const char *bytes, size_t size)
{
    strncat(to, bytes, size);
    return TC_OK;
}

static struct tc_channel channels[] = { { .number = 1, .name = "trunk, top" }, { .number = 3, .name = "=fork" }, { .number = 6, .name = "flood" } };
static const struct tc_rig rig = { .channels = channels, .channel_count = 3 };

static const char *written(int64_t outputs, enum tc_levels unit, uint16_t a, uint16_t b, uint16_t c)
{
    static char text[4000];
    struct writer w;
    struct frames_columns columns = frames_columns(&rig, outputs);
    *text = 0;
    writer_begin(&w, (struct tc_sink){ append, text });
    frames_write_head(&w, &rig, &columns);
    frames_write_row(&w, 0, (uint16_t[]){ 0, 0, 0 }, &columns, unit);
    frames_write_row(&w, 36000025, (uint16_t[]){ a, b, c }, &columns, unit);
    assert_int_equal(writer_end(&w), TC_OK);
    return text;
}

static void channels_stand_in_rig_order(void **state)
{
    (void)state;
    assert_string_equal(written(0, TC_LEVELS_PERCENT, 1000, 7, 555),
                        "time_s,\"trunk, top\",'=fork,flood\r\n0.000,0.0,0.0,0.0\r\n36000.025,100.0,0.7,55.5\r\n");
    assert_string_equal(written(0, TC_LEVELS_8BIT, 255, 7, 0),
                        "time_s,\"trunk, top\",'=fork,flood\r\n0.000,0,0,0\r\n36000.025,255,7,0\r\n");
}

static void all_outputs_have_their_column(void **state)
{
    (void)state;
    assert_string_equal(written(1, TC_LEVELS_PERCENT, 1000, 7, 555),
                        "time_s,\"1 trunk, top\",2,3 =fork,4,5,6 flood\r\n0.000,0.0,0.0,0.0,0.0,0.0,0.0\r\n"
                        "36000.025,100.0,0.0,0.7,0.0,0.0,55.5\r\n");
    assert_string_equal(written(8, TC_LEVELS_8BIT, 255, 7, 1),
                        "time_s,\"1 trunk, top\",2,3 =fork,4,5,6 flood,7,8\r\n0.000,0,0,0,0,0,0,0,0\r\n"
                        "36000.025,255,0,7,0,0,1,0,0\r\n");
    /* no channel is ever left out */
    assert_string_equal(written(4, TC_LEVELS_8BIT, 255, 7, 1),
                        "time_s,\"1 trunk, top\",2,3 =fork,4,5,6 flood\r\n0.000,0,0,0,0,0,0\r\n"
                        "36000.025,255,0,7,0,0,1\r\n");
    assert_int_equal(frames_columns(&rig, TC_MAX_CHANNELS).count, TC_MAX_CHANNELS);
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(channels_stand_in_rig_order),
        cmocka_unit_test(all_outputs_have_their_column),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
