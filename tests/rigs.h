/* Rigs compared field by field: structs have gaps whose bytes mean nothing. */
#ifndef TC_TESTS_RIGS_H
#define TC_TESTS_RIGS_H

#include "check.h"

#include "thundercue.h"

#define SAME_WHOLE(field) assert_int_equal(a->field, b->field)
#define SAME_NUMBER(field) assert_near(a->field, b->field, 0)
#define SAME_TEXT(field) assert_string_equal(a->field, b->field)

static inline void assert_same_channel(const struct tc_channel *a, const struct tc_channel *b)
{
    SAME_WHOLE(number); SAME_WHOLE(kind); SAME_WHOLE(parent); SAME_WHOLE(circuit); SAME_WHOLE(group);
    SAME_TEXT(name);
    SAME_NUMBER(watts); SAME_NUMBER(lumens); SAME_NUMBER(min_level); SAME_NUMBER(max_level);
    SAME_WHOLE(curve); SAME_WHOLE(lamp);
    SAME_NUMBER(rise_ms); SAME_NUMBER(fall_ms); SAME_NUMBER(lead_ms); SAME_NUMBER(max_amps);
    SAME_NUMBER(cord_length); SAME_WHOLE(cord_metric); SAME_WHOLE(cord_awg); SAME_WHOLE(slot);
    SAME_WHOLE(placed); SAME_WHOLE(start_placed);
    SAME_NUMBER(x); SAME_NUMBER(y); SAME_NUMBER(start_x); SAME_NUMBER(start_y); SAME_NUMBER(fork);
}

static inline void assert_same_circuit(const struct tc_circuit *a, const struct tc_circuit *b)
{
    SAME_TEXT(name);
    SAME_NUMBER(breaker_amps); SAME_NUMBER(volts);
}

static inline void assert_same_bank(const struct tc_bank *a, const struct tc_bank *b)
{
    SAME_TEXT(name);
    SAME_WHOLE(first); SAME_WHOLE(last); SAME_NUMBER(max_amps);
}

static inline void assert_same_overhead(const struct tc_overhead *a, const struct tc_overhead *b)
{
    SAME_WHOLE(given); SAME_WHOLE(metric);
    SAME_NUMBER(span_m); SAME_NUMBER(sag_m); SAME_NUMBER(centre_n); SAME_NUMBER(uniform_n_per_m);
    SAME_NUMBER(breaking_n); SAME_NUMBER(knot); SAME_NUMBER(design_factor);
}

static inline void assert_same_network(const struct tc_network *a, const struct tc_network *b)
{
    SAME_WHOLE(universe); SAME_WHOLE(first_slot); SAME_WHOLE(priority);
    SAME_TEXT(to);
}

static inline void assert_same_rig(const struct tc_rig *a, const struct tc_rig *b)
{
    SAME_TEXT(name);
    SAME_NUMBER(mains_volts); SAME_NUMBER(mains_hz);
    SAME_WHOLE(channel_count); SAME_WHOLE(circuit_count); SAME_WHOLE(group_count); SAME_WHOLE(bank_count);
    for (size_t i = 0; i < a->channel_count; i++) assert_same_channel(&a->channels[i], &b->channels[i]);
    for (size_t i = 0; i < a->circuit_count; i++) assert_same_circuit(&a->circuits[i], &b->circuits[i]);
    for (size_t i = 0; i < a->group_count; i++) assert_string_equal(a->groups[i].name, b->groups[i].name);
    for (size_t i = 0; i < a->bank_count; i++) assert_same_bank(&a->banks[i], &b->banks[i]);
    assert_same_overhead(&a->overhead, &b->overhead);
    assert_same_network(&a->network, &b->network);
}

#undef SAME_WHOLE
#undef SAME_NUMBER
#undef SAME_TEXT

#endif
