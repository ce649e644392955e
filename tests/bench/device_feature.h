/* Turn a feature of a network device on or off, as `ethtool -K` does: ioctl(2) with SIOCETHTOOL, linux/ethtool.h. */
#ifndef RIGCALL_BENCH_DEVICE_FEATURE_H
#define RIGCALL_BENCH_DEVICE_FEATURE_H

#include <linux/ethtool.h>
#include <linux/sockios.h>
#include <net/if.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <sys/ioctl.h>
#include <sys/socket.h>
#include <unistd.h>

#define DEVICE_FEATURES 256          /* most that are looked through */

static inline bool device_ask(int fd, const char *device, void *command)
{
    struct ifreq request = { .ifr_data = command };
    strncpy(request.ifr_name, device, IFNAMSIZ - 1);
    return ioctl(fd, SIOCETHTOOL, &request) >= 0;
}

static inline bool device_feature(const char *device, const char *feature, bool on)
{
    union { struct ethtool_sset_info info; __u8 octets[sizeof(struct ethtool_sset_info) + sizeof(__u32)]; } set =
        { .info = { .cmd = ETHTOOL_GSSET_INFO, .sset_mask = 1u << ETH_SS_FEATURES } };
    struct ethtool_gstrings *names = calloc(1, sizeof *names + DEVICE_FEATURES * ETH_GSTRING_LEN);
    struct ethtool_sfeatures *wanted = calloc(1, sizeof *wanted + DEVICE_FEATURES / 32 * sizeof wanted->features[0]);
    int fd = socket(AF_INET, SOCK_DGRAM | SOCK_CLOEXEC, 0);
    bool done = false;
    __u32 count = DEVICE_FEATURES + 1;
    if (device_ask(fd, device, &set))
        memcpy(&count, set.octets + sizeof set.info, sizeof count);
    if (names && wanted && count <= DEVICE_FEATURES) {
        *names = (struct ethtool_gstrings){ .cmd = ETHTOOL_GSTRINGS, .string_set = ETH_SS_FEATURES, .len = count };
        *wanted = (struct ethtool_sfeatures){ .cmd = ETHTOOL_SFEATURES, .size = (count + 31) / 32 };
        done = device_ask(fd, device, names);
        __u32 at = 0;
        while (done && at < count && strncmp((const char *)names->data + at * ETH_GSTRING_LEN, feature, ETH_GSTRING_LEN) != 0)
            at++;
        done = done && at < count;
        wanted->features[at / 32 % (DEVICE_FEATURES / 32)].valid = 1u << at % 32;
        wanted->features[at / 32 % (DEVICE_FEATURES / 32)].requested = on ? 1u << at % 32 : 0;
        done = done && device_ask(fd, device, wanted);
    }
    close(fd);
    free(wanted);
    free(names);
    return done;
}

#endif
