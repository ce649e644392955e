"""Another E1.31 source: sends a data packet for each universe by multicast ten times a second until its standard input ends.
Built from a sample packet (tests/sacn/samples), not by this project's code.
usage: rival.py ADDRESS-OF-INTERFACE PRIORITY UNIVERSE...
"""
import os
import select
import socket
import sys

import tshark

SAMPLE = os.path.join(os.path.dirname(os.path.abspath(__file__)), "..", "sacn", "samples", "data.hex")
PRIORITY, SEQUENCE, UNIVERSE = 108, 111, 113      # offsets, ANSI E1.31-2018 Table 4-1
INTERVAL_S = 0.1


def main():
    address, priority, universes = sys.argv[1], int(sys.argv[2]), [int(text) for text in sys.argv[3:]]
    with open(SAMPLE, encoding="ascii") as file:
        packet = bytearray(bytes.fromhex(file.read()))
    packet[PRIORITY] = priority
    sender = socket.socket(socket.AF_INET, socket.SOCK_DGRAM)
    sender.setsockopt(socket.IPPROTO_IP, socket.IP_MULTICAST_IF, socket.inet_aton(address))
    for count in range(1 << 30):
        packet[SEQUENCE] = count & 255
        for universe in universes:
            packet[UNIVERSE:UNIVERSE + 2] = universe.to_bytes(2, "big")
            sender.sendto(packet, (tshark.group(universe), 5568))
        if count == 0:
            print("sending", flush=True)
        if select.select([sys.stdin], [], [], INTERVAL_S)[0]:
            return


main()
