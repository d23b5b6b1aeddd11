/* The bytes of ANSI E1.31-2018, by which levels travel over a network: data
 * packets and the list of universes that a source announces. Pure: nothing is
 * sent here. Numbers on the wire have their high byte first. */
#ifndef TC_E131_H
#define TC_E131_H

#include <stddef.h>
#include <stdint.h>

#include "words/network.h"

enum {
    E131_PORT = 5568,
    E131_SLOTS = UNIVERSE_SLOTS,
    E131_HEAD_BYTES = 126,        /* before the first slot, the START code among them */
    E131_PACKET_BYTES = E131_HEAD_BYTES + E131_SLOTS,
    E131_CID_BYTES = 16,
    E131_NAME_BYTES = 64,         /* with the NUL that ends it */
    E131_SEQUENCE_AT = 111,       /* where the packet's number stands */
    E131_OPTIONS_AT = 112,
    E131_TERMINATED = 0x40,       /* option: the source ends this universe */
    E131_DISCOVERY_UNIVERSE = 64214,
    E131_DISCOVERED_MOST = 512,   /* universes in one page of the announcement */
    E131_DISCOVERY_BYTES = 120 + 2 * E131_DISCOVERED_MOST,
};

/* A receiver that hears nothing for so long takes the source for lost (the
 * standard's network data loss timeout). */
#define E131_LOSS_S 2.5

/* Who sends: the same in every packet. */
struct e131_source {
    uint8_t cid[E131_CID_BYTES];  /* a UUID, always the same for one sender */
    char name[E131_NAME_BYTES];   /* UTF-8 */
    uint8_t priority;             /* 0..200; the higher one wins */
};

/* Fills in a UUID (version 8, RFC 9562) that follows from these bytes alone. */
void e131_cid(uint8_t cid[E131_CID_BYTES], const void *of, size_t size);

/* Copies a name of any length, cut to what fits without splitting a letter. */
void e131_name(char to[E131_NAME_BYTES], const char *from);

/* One data packet with `count` slots (1..512); `to` has room for
 * E131_HEAD_BYTES + count. Returns its size. */
size_t e131_data(uint8_t *to, const struct e131_source *from, uint16_t universe, uint8_t sequence,
                 uint8_t options, const uint8_t *slots, size_t count);

/* The announcement of the universes first..first+count-1 (at most
 * E131_DISCOVERED_MOST), which goes to E131_DISCOVERY_UNIVERSE every ten
 * seconds; `to` has room for E131_DISCOVERY_BYTES. Returns its size. */
size_t e131_discovery(uint8_t *to, const struct e131_source *from, uint16_t first, size_t count);

/* The IPv4 group of a universe, 239.255.hi.lo, its first byte highest. */
uint32_t e131_group(uint16_t universe);

#endif
