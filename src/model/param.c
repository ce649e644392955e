/* One table of parameter names, ANSI E1.20 slot IDs (Table C-2 and its later additions) and DIN SPEC 15800 attributes. */
#include <string.h>

#include "rigcall/model.h"

#define NO_SLOT_ID 0xFFFF            /* SD_UNDEFINED */

/* Sorted by name, octet order. */
static const struct parameter table[] = {
    { "amber",           0x0211, "ColorAdd_RY",     ROLE_COLOUR },
    { "barn_door",       0x0409, NULL,              ROLE_MOTION },
    { "blue",            0x0207, "ColorAdd_B",      ROLE_COLOUR },
    { "colour_temperature", 0x0208, "CTC",          ROLE_OTHER },
    { "colour_wheel",    0x0201, "Color1",          ROLE_OTHER },
    { "control",         0x0502, "Control1",        ROLE_OTHER },
    { "cool_white",      0x0214, "ColorAdd_CW",     ROLE_COLOUR },
    { "cyan",            0x020C, "ColorAdd_C",      ROLE_COLOUR },
    { "douser",          0x0408, NULL,              ROLE_OTHER },
    { "edge",            0x0402, "Focus1",          ROLE_OTHER },
    { "effects",         0x0304, "Effects1",        ROLE_OTHER },
    { "fan",             0x0506, "Fans",            ROLE_OTHER },
    { "fog",             NO_SLOT_ID, "Fog1",        ROLE_OTHER },
    { "frost",           0x0403, "Frost1",          ROLE_OTHER },
    { "gobo",            0x0301, "Gobo1",           ROLE_OTHER },
    { "green",           0x0206, "ColorAdd_G",      ROLE_COLOUR },
    { "hue",             0x0216, "HSB_Hue",         ROLE_OTHER },
    { "indigo",          0x020B, NULL,              ROLE_COLOUR },
    { "intensity",       0x0001, "Dimmer",          ROLE_INTENSITY },
    { "iris",            0x0401, "Iris",            ROLE_OTHER },
    { "lamp",            0x0501, "LampControl",     ROLE_OTHER },
    { "lime",            0x020A, "ColorAdd_GY",     ROLE_COLOUR },
    { "macro",           0x0504, NULL,              ROLE_OTHER },
    { "pan",             0x0101, "Pan",             ROLE_MOTION },
    { "power",           0x0505, NULL,              ROLE_OTHER },
    { "prism",           0x0303, "Prism1",          ROLE_OTHER },
    { "red",             0x0205, "ColorAdd_R",      ROLE_COLOUR },
    { "saturation",      0x0217, "HSB_Saturation",  ROLE_OTHER },
    { "shutter",         0x0404, "Shutter1",        ROLE_STROBE },
    { "speed",           0x0503, NULL,              ROLE_OTHER },
    { "strobe",          0x0404, "Shutter1Strobe",  ROLE_STROBE },
    { "tilt",            0x0102, "Tilt",            ROLE_MOTION },
    { "ultraviolet",     0x0218, "ColorAdd_UV",     ROLE_COLOUR },
    { "warm_white",      0x0213, "ColorAdd_WW",     ROLE_COLOUR },
    { "white",           0x0212, "ColorAdd_W",      ROLE_COLOUR },
    { "zoom",            0x0405, "Zoom",            ROLE_MOTION },
};

const struct parameter *parameter_find(const char *name)
{
    size_t low = 0, high = sizeof table / sizeof *table;
    while (low < high) {
        size_t middle = low + (high - low) / 2;
        int order = strcmp(table[middle].name, name);
        if (order == 0)
            return &table[middle];
        if (order < 0)
            low = middle + 1;
        else
            high = middle;
    }
    return NULL;
}

const struct parameter *parameter_table(size_t *count)
{
    *count = sizeof table / sizeof *table;
    return table;
}
