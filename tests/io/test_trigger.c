/* What starts a show. */
#include "scratch.h"

#include <arpa/inet.h>
#include <sys/socket.h>
#include <utime.h>

#include "io/process/trigger.h"

static void a_file_that_appears_or_is_touched_counts_once(void **state)
{
    (void)state;
    char folder[300], path[320], form[330];
    struct trigger *t;
    struct tc_problem why;
    scratch_make(folder, sizeof folder);
    snprintf(path, sizeof path, "%s/storm", folder);
    snprintf(form, sizeof form, "file:%s", path);
    assert_int_equal(trigger_open(&t, form, NULL, &why), TC_OK);
    assert_false(trigger_pulled(t));
    fclose(fopen(path, "w"));
    assert_true(trigger_pulled(t));
    assert_false(trigger_pulled(t));
    assert_int_equal(utime(path, &(struct utimbuf){ 1000, 1000 }), 0);
    assert_true(trigger_pulled(t));
    assert_false(trigger_pulled(t));
    remove(path);
    assert_false(trigger_pulled(t));
    trigger_close(t);

    fclose(fopen(path, "w"));
    assert_int_equal(trigger_open(&t, form, NULL, &why), TC_OK);
    assert_false(trigger_pulled(t)); /* it was there before */
    trigger_close(t);
    scratch_remove(folder);
}

static void a_datagram_counts_and_several_count_once(void **state)
{
    (void)state;
    struct trigger *t = NULL;
    struct tc_problem why;
    int port = 20000 + getpid() % 20000;
    char form[60];
    for (int i = 0; i < 50 && !t; i++) { /* a port that is free */
        snprintf(form, sizeof form, "udp:127.0.0.1:%d", port + i);
        if (trigger_open(&t, form, NULL, &why) == TC_OK) port += i;
    }
    assert_non_null(t);
    assert_false(trigger_pulled(t));
    int s = socket(AF_INET, SOCK_DGRAM, 0);
    struct sockaddr_in to = { .sin_family = AF_INET, .sin_port = htons((uint16_t)port),
                              .sin_addr.s_addr = htonl(INADDR_LOOPBACK) };
    for (int i = 0; i < 3; i++)
        assert_int_equal(sendto(s, "go", (size_t)(i & 2), 0, (struct sockaddr *)&to, sizeof to), i & 2);
    assert_true(trigger_pulled(t));
    assert_false(trigger_pulled(t));
    close(s);
    trigger_close(t);
}

static void a_form_that_is_none_is_named(void **state)
{
    (void)state;
    static const struct { const char *form, *want; } rows[] = {
        { "smoke", "trigger: 'smoke' is not key, udp:PORT or file:PATH" },
        { "file:", "trigger: 'file:' is not key, udp:PORT or file:PATH" },
        { "udp:0", "trigger: '0' is not a port from 1 to 65535, or ADDRESS:PORT" },
        { "udp:x:9", "trigger: 'x:9' is not a port from 1 to 65535, or ADDRESS:PORT" },
    };
    for (size_t i = 0; i < COUNT(rows); i++) {
        struct trigger *t;
        struct tc_problem why;
        assert_int_equal(trigger_open(&t, rows[i].form, NULL, &why), TC_ERR_USAGE);
        assert_string_equal(why.text, rows[i].want);
    }
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_file_that_appears_or_is_touched_counts_once),
        cmocka_unit_test(a_datagram_counts_and_several_count_once),
        cmocka_unit_test(a_form_that_is_none_is_named),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
