#include <sodium.h>
#include <string.h>

#include "script_internal.h"
#include "shipped.h"

bool script__is_shipped(const char *bytes, size_t length)
{
    unsigned char hash[crypto_hash_sha256_BYTES];
    crypto_hash_sha256(hash, (const unsigned char *)bytes, length);
    for (size_t i = 0; i < script__shipped_count; i++)
        if (!memcmp(hash, script__shipped[i], sizeof hash))
            return true;
    return false;
}
