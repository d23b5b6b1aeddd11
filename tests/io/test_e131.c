/* Packets byte for byte, by the field tables of ANSI E1.31-2018 (data packet:
 * octets, sizes and values as transcribed from the standard). */
#include "check.h"

#include "io/network/e131.h"

static const struct e131_source from = {
    .cid = { 1, 2, 3, 4, 5, 6, 7, 8, 9, 10, 11, 12, 13, 14, 15, 16 }, .name = "mill pond", .priority = 100,
};

/* Octet, size and value of every field; what lies between is compared apart. */
struct field {
    int at, size;
    unsigned long value;
};

static void compare(const uint8_t *packet, const struct field *fields, size_t count)
{
    for (size_t i = 0; i < count; i++) {
        unsigned long value = 0;
        for (int b = 0; b < fields[i].size; b++) value = value << 8 | packet[fields[i].at + b];
        if (value != fields[i].value)
            fail_msg("octet %d is %#lx, the standard says %#lx", fields[i].at, value, fields[i].value);
    }
}

static void a_full_packet_has_the_standard_s_fields(void **state)
{
    (void)state;
    uint8_t slots[512], packet[E131_PACKET_BYTES];
    for (int i = 0; i < 512; i++) slots[i] = (uint8_t)(i * 7);
    assert_int_equal(e131_data(packet, &from, 0x1234, 0xAB, E131_TERMINATED, slots, 512), 638);
    static const struct field fields[] = {
        { 0, 2, 0x0010 }, { 2, 2, 0 }, { 4, 4, 0x4153432D }, { 8, 4, 0x45312E31 }, { 12, 4, 0x37000000 },
        { 16, 2, 0x726E }, { 18, 4, 4 }, { 38, 2, 0x7258 }, { 40, 4, 2 }, { 108, 1, 100 }, { 109, 2, 0 },
        { 111, 1, 0xAB }, { 112, 1, 0x40 }, { 113, 2, 0x1234 }, { 115, 2, 0x720B }, { 117, 1, 2 },
        { 118, 1, 0xA1 }, { 119, 2, 0 }, { 121, 2, 1 }, { 123, 2, 0x0201 }, { 125, 1, 0 },
    };
    compare(packet, fields, COUNT(fields));
    assert_memory_equal(packet + 22, from.cid, 16);
    assert_memory_equal(packet + 44, from.name, 64);
    assert_memory_equal(packet + 126, slots, 512);
}

static void a_short_packet_tells_its_length(void **state)
{
    (void)state;
    uint8_t slots[8] = { 0 }, packet[E131_PACKET_BYTES];
    assert_int_equal(e131_data(packet, &from, 1, 0, 0, slots, 8), 134);
    static const struct field fields[] = { { 16, 2, 0x7076 }, { 38, 2, 0x7060 }, { 115, 2, 0x7013 }, { 123, 2, 9 } };
    compare(packet, fields, COUNT(fields));
}

static void universes_are_announced(void **state)
{
    (void)state;
    uint8_t packet[E131_DISCOVERY_BYTES];
    assert_int_equal(e131_discovery(packet, &from, 7, 3), 126);
    static const struct field fields[] = {
        { 18, 4, 8 }, { 40, 4, 2 }, { 108, 4, 0 }, { 112, 2, 0x7000 | 14 }, { 114, 4, 1 }, { 118, 2, 0 },
        { 120, 2, 7 }, { 122, 2, 8 }, { 124, 2, 9 },
    };
    compare(packet, fields, COUNT(fields));
}

static void groups_follow_the_universe(void **state)
{
    (void)state;
    assert_int_equal(e131_group(1), 0xEFFF0001);     /* 239.255.0.1 */
    assert_int_equal(e131_group(256), 0xEFFF0100);   /* 239.255.1.0 */
    assert_int_equal(e131_group(63999), 0xEFFFF9FF); /* 239.255.249.255 */
}

static void a_sender_keeps_its_identity(void **state)
{
    (void)state;
    uint8_t one[16], again[16], other[16];
    e131_cid(one, "mill", 4);
    e131_cid(again, "mill", 4);
    e131_cid(other, "pond", 4);
    assert_memory_equal(one, again, 16);
    assert_memory_not_equal(one, other, 16);
    assert_int_equal(one[6] >> 4, 8); /* RFC 9562: version 8 */
    assert_int_equal(one[8] >> 6, 2); /* and its variant */
}

static void long_names_are_cut_between_letters(void **state)
{
    (void)state;
    char name[64];
    e131_name(name, "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa\xC3\xA4" "b");
    assert_int_equal(strlen(name), 62);
    e131_name(name, "M\xC3\xBChle");
    assert_string_equal(name, "M\xC3\xBChle");
}

int main(void)
{
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_full_packet_has_the_standard_s_fields),
        cmocka_unit_test(a_short_packet_tells_its_length),
        cmocka_unit_test(universes_are_announced),
        cmocka_unit_test(groups_follow_the_universe),
        cmocka_unit_test(a_sender_keeps_its_identity),
        cmocka_unit_test(long_names_are_cut_between_letters),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
