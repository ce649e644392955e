/* Reading the sample packets of tests/sacn/samples: hexadecimal text, and tables with tabs. */
#ifndef RIGCALL_TESTS_SAMPLES_H
#define RIGCALL_TESTS_SAMPLES_H

#include <ctype.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#define SAMPLES RIGCALL_SOURCE_DIR "/tests/sacn/samples/"
#define SAMPLE_SIZE 1500

/* Octets of hexadecimal text; anything else between the digits is skipped. */
static inline size_t sample_from_hex(const char *hex, uint8_t *octets, size_t size)
{
    size_t length = 0;
    unsigned octet;
    char pair[3] = "";
    for (; *hex && length < size; hex++) {
        if (!isxdigit((unsigned char)*hex))
            continue;
        pair[strlen(pair)] = *hex;
        if (pair[1] == '\0')
            continue;
        sscanf(pair, "%x", &octet);
        octets[length++] = (uint8_t)octet;
        memset(pair, 0, sizeof pair);
    }
    return length;
}

/* @return octets of samples/NAME.hex, 0 when it cannot be read */
static inline size_t sample_read(const char *name, uint8_t octets[SAMPLE_SIZE])
{
    char path[512], hex[4 * SAMPLE_SIZE];
    snprintf(path, sizeof path, SAMPLES "%s.hex", name);
    FILE *file = fopen(path, "r");
    if (!file)
        return 0;
    size_t got = fread(hex, 1, sizeof hex - 1, file);
    fclose(file);
    hex[got] = '\0';
    return sample_from_hex(hex, octets, SAMPLE_SIZE);
}

/* Cut a line at its tabs. @return fields found */
static inline size_t sample_fields(char *line, char **fields, size_t limit)
{
    size_t count = 0;
    line[strcspn(line, "\r\n")] = '\0';
    for (char *field = line; field && count < limit; count++) {
        fields[count] = field;
        field = strchr(field, '\t');
        if (field)
            *field++ = '\0';
    }
    return count;
}

#endif
