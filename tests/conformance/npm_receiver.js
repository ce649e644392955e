// npm sacn 4.6.2 as an independent receiver. Listens on a port that the system gives, says it on the first line, then writes a
// JSON line for every packet until the universe that ends it all is received.
// usage: node npm_receiver.js NPM-FOLDER END-UNIVERSE UNIVERSE...
'use strict'
const path = require('path')
const { Receiver } = require(path.join(process.argv[2], 'node_modules', 'sacn'))

const [last, ...universes] = process.argv.slice(3).map(Number)
const say = (line) => process.stdout.write(JSON.stringify(line) + '\n')

// No universes to begin with: the constructor would join their multicast groups, and this run is unicast on loopback.
const receiver = new Receiver({ universes: [], port: 0, reuseAddr: false })
receiver.universes = [last, ...universes]
receiver.socket.on('listening', () => {
  receiver.socket.setRecvBufferSize(1 << 22)
  say({ port: receiver.socket.address().port })
})
for (const trouble of ['PacketCorruption', 'PacketOutOfOrder', 'error'])
  receiver.on(trouble, (error) => say({ trouble, text: String(error) }))

receiver.on('packet', (packet) => {
  if (packet.universe === last) {
    receiver.close()
    return
  }
  say({ universe: packet.universe, sequence: packet.sequence, priority: packet.priority, options: packet.options,
        cid: packet.cid.toString('hex'), name: packet.sourceName, from: packet.sourceAddress,
        levels: packet.payloadAsBuffer.toString('hex') })
})
