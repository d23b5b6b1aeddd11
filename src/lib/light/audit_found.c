#include "light/audit_found.h"

#include <string.h>

#include "light/flash_count.h"
#include "rig/load.h"
#include "words/memory.h"

void audit_clear(struct audit *a)
{
    if (a->own_rig) tc_rig_clear(&a->rig);
    load_report_clear(&a->load);
    memory_free(a->at_peak);
    memory_free(a->lit);
    memset(a, 0, sizeof *a);
}

bool audit_flashes_too_fast(const struct audit *a)
{
    return flash_report_too_fast(&a->flash);
}

bool audit_cannot_tell(const struct audit *a)
{
    return !audit_flashes_too_fast(a) && flash_report_too_fast(&a->alone);
}

bool audit_channel_over(const struct audit *a, size_t channel)
{
    const struct tc_channel *c = &a->rig.channels[channel];
    double volts = c->circuit >= 0 && (size_t)c->circuit < a->rig.circuit_count
                 ? a->rig.circuits[c->circuit].volts : a->rig.mains_volts;
    return c->max_amps > 0 && volts > 0 && c->watts > c->max_amps * volts;
}

/* Findings besides what only the rig could tell. */
static bool found_more(const struct audit *a)
{
    for (int t = 0; t < AUDIT_TOPICS; t++)
        if (a->counts[t]) return true;
    if (audit_flashes_too_fast(a) || (a->rows && !a->ends_dark)) return true;
    for (size_t i = 0; a->load.circuits && i < a->rig.circuit_count; i++)
        if (circuit_over(&a->rig.circuits[i], a->load.circuits[i].all_on_w)) return true;
    for (size_t c = 0; c < a->rig.channel_count; c++)
        if (audit_channel_over(a, c)) return true;
    return false;
}

bool audit_findings(const struct audit *a)
{
    return audit_cannot_tell(a) || found_more(a);
}

bool audit_only_cannot_tell(const struct audit *a)
{
    return audit_cannot_tell(a) && !found_more(a);
}
