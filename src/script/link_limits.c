#include "link.h"

double link_load_limit_s(void)
{
    return 0.5;
}

double link_run_limit_s(enum script_kind kind, uint32_t fixture_count)
{
    switch (kind) {
    case SCRIPT_RULE:
        return 5.0 + 50e-6 * fixture_count;
    case SCRIPT_SWAP:
        return 2.0;
    case SCRIPT_SHEET:
        return 10.0 + 1e-3 * fixture_count;
    case SCRIPT_SEQUENCE:
    case SCRIPT_LIB:
        break;
    }
    return 0.5;
}

size_t link_memory_limit(uint32_t fixture_count)
{
    return ((size_t)64 << 20) + ((size_t)fixture_count << 10);
}
