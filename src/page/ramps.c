#include "page/ramps.h"

#include "words/memory.h"
#include "writing/columns.h"

/* As many as columns would take, a byte a cell; base64 makes both longer by a third. */
enum { RAMP_BYTES_MOST = COLUMN_CELLS_MOST };

struct page_ramps {
    unsigned char *packed;   /* as timeline.js unpacks them */
    size_t size, room;
    bool kept;               /* all of them so far */
    size_t count;
    uint32_t frame;          /* of the ramp before */
    uint16_t *held;          /* last end level of each channel */
};

enum tc_status page_ramps_create(struct page_ramps **out, size_t channels)
{
    struct page_ramps *p = memory_new(1, sizeof *p);
    if (!p) return TC_ERR_MEMORY;
    p->kept = true;
    if (!(p->held = memory_new(channels + 1, sizeof *p->held))) {
        page_ramps_destroy(p);
        return TC_ERR_MEMORY;
    }
    *out = p;
    return TC_OK;
}

void page_ramps_destroy(struct page_ramps *p)
{
    if (!p) return;
    memory_free(p->packed);
    memory_free(p->held);
    memory_free(p);
}

/* Seven bits a byte, low ones first; the top bit says that more follow. */
static void pack(struct page_ramps *p, uint32_t value)
{
    for (; value > 127; value >>= 7) p->packed[p->size++] = (unsigned char)(value | 128);
    p->packed[p->size++] = (unsigned char)value;
}

enum { RAMP_ROOM = 5 * 5 }; /* five numbers of at most five bytes */

enum tc_status page_ramps_add(void *ramps, const struct ramp *ramp)
{
    struct page_ramps *p = ramps;
    p->count++;
    if (!p->kept) return TC_OK;
    if (p->size + RAMP_ROOM > p->room) {
        if (p->room >= RAMP_BYTES_MOST) {
            p->kept = false;
            return TC_OK;
        }
        size_t room = p->room ? 2 * p->room : 4096;
        if (room > RAMP_BYTES_MOST) room = RAMP_BYTES_MOST;
        unsigned char *more = memory_resize(p->packed, room);
        if (!more) return TC_ERR_MEMORY;
        p->packed = more;
        p->room = room;
    }
    bool jumps = ramp->start_level != p->held[ramp->channel];
    pack(p, ramp->start - p->frame);
    pack(p, ramp->end - ramp->start);
    pack(p, 2u * ramp->channel + jumps);
    if (jumps) pack(p, ramp->start_level);
    pack(p, ramp->end_level);
    p->frame = ramp->start;
    p->held[ramp->channel] = ramp->end_level;
    return TC_OK;
}

size_t page_ramps_size(const struct page_ramps *p)
{
    return p->kept ? p->size : 0;
}

bool page_ramps_kept(const struct page_ramps *p)
{
    return p->kept;
}

void page_ramps_put(struct json *j, const struct page_ramps *p, uint16_t full, bool with_ramps)
{
    json_open(j, "ramps", '{');
    json_whole(j, "count", (int64_t)p->count);
    json_flag(j, "kept", with_ramps);
    json_whole(j, "full", full);
    json_bytes(j, "packed", p->packed, with_ramps ? p->size : 0);
    json_close(j, '}');
}
