"""Synchronisation and universe discovery packets built from ANSI E1.31-2018 Tables 4-2 and 4-3, to compare with octet by octet."""
import struct

DISCOVERY_GROUP = "239.255.250.214"   # of universe 64214: Appendix A and 9.3.1
PAGE = 512                            # most universes of a page, 8.4


def root(length, cid, framing_vector):
    """Preamble, post-amble, identifier, root layer and the head of the framing layer: 44 octets."""
    return struct.pack(">HH12sHI16sHI", 0x0010, 0, b"ASC-E1.17", 0x7000 | length - 16, 8, cid, 0x7000 | length - 38, framing_vector)


def sync(cid, address, sequence):
    """Table 4-2."""
    return root(49, cid, 1) + struct.pack(">BHH", sequence % 256, address, 0)


def discovery(cid, name, universes):
    """Table 4-3: all pages of a list."""
    universes = sorted(universes)
    pages = [universes[at:at + PAGE] for at in range(0, len(universes), PAGE)] or [[]]
    packets = []
    for number, page in enumerate(pages):
        length = 120 + 2 * len(page)
        packets.append(root(length, cid, 2) + struct.pack(">64sI", name, 0) +
                       struct.pack(">HIBB%dH" % len(page), 0x7000 | length - 112, 1, number, len(pages) - 1, *page))
    return packets
