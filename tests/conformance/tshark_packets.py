"""Every field of every packet built here, as tshark 4.0.17 reads it from a capture written here, is what was commanded.

Source of the expected values: packets.tsv (what was commanded), ANSI E1.31-2018 Table 4-1 (what is the same in every packet).
usage: tshark_packets.py CONFORMANCE_PACKETS
"""
import csv
import os
import subprocess
import sys
import tempfile
import unittest

import tshark

TABLE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "packets.tsv")

# Table 4-1 with 512 slots: root, framing and DMP length 622, 600, 523; the count includes the START code.
ALWAYS = {"acn.preamble_size": "16", "acn.postamble_size": "0", "acn.packet_identifier": "ASC-E1.17", "acn.protocol_id": "4",
          "acn.dmx_vector": "2", "acn.dmx.reserved": "0", "acn.dmx.option_p": "0", "acn.dmp_vector": "2",
          "acn.dmx.first_property_address": "0", "acn.dmx.increment": "1", "acn.dmx.count": "513", "acn.dmx.start_code2": "0",
          "ip.checksum.status": "1", "udp.checksum.status": "1", "lengths": [622, 600, 523]}


def commanded(row, number):
    """What tshark must show for a row. The name has at most 63 octets (6.2.2); the TTLs are ours: 8 for multicast, 64 else."""
    universe, terminated = int(row["universe"]), row["terminated"]
    seconds, nanoseconds = divmod(int(row["time_ns"]), 10**9)
    factor, offset = int(row["factor"]), int(row["offset"])
    return dict(ALWAYS, **{
        "frame.time_epoch": "%d.%09d" % (seconds, nanoseconds),
        "ip.src": row["from"], "ip.dst": tshark.group(universe) if row["to"] == "group" else row["to"],
        "ip.ttl": "8" if row["to"] == "group" else "64", "ip.id": "0x%04x" % number, "ip.dsfield.dscp": "0",
        "udp.srcport": row["from_port"], "udp.dstport": row["port"],
        "acn.cid": row["cid"], "acn.dmx.source_name": row["name"].encode()[:63].decode(), "acn.dmx.priority": row["priority"],
        "acn.dmx.seq_number": row["sequence"], "acn.dmx.universe": row["universe"],
        "acn.dmx.options": str(0x40 * int(terminated)), "acn.dmx.option_s": terminated,
        "levels": bytes((slot * factor + offset) % 256 for slot in range(1, 513)),
    })


class Packets(unittest.TestCase):
    maxDiff = None

    def test_every_field_is_what_was_commanded(self):
        with open(TABLE, newline="", encoding="utf-8") as table:
            rows = list(csv.DictReader(table, delimiter="\t"))
        with tempfile.TemporaryDirectory() as folder:
            capture = os.path.join(folder, "packets.pcap")
            subprocess.run([PROGRAM, TABLE, capture], check=True, env=tshark.environment(folder))
            packets = tshark.decode(capture)
        self.assertEqual(len(rows), 6)
        self.assertEqual(len(packets), len(rows))
        for number, (row, packet) in enumerate(zip(rows, packets)):
            with self.subTest(row=number + 1):
                self.assertEqual(packet, commanded(row, number))


if __name__ == "__main__":
    tshark.need("tshark")
    PROGRAM = sys.argv.pop()
    unittest.main()
