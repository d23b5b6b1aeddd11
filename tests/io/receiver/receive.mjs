// Receives E1.31 with an independent receiver (npm's sacn) and writes down what
// came: a line a packet on standard output, and all packets as a capture file.
//   node receive.mjs NODE_MODULES UNIVERSES QUIET_MS CAPTURE.pcap
// Ends QUIET_MS after the last packet, sooner if all universes have ended. Prints "ready" first.
import { createRequire } from 'node:module';
import { writeFileSync } from 'node:fs';

const [modules, universes, quiet, capture] = process.argv.slice(2);
const { Receiver } = createRequire(modules + '/')('sacn');
const receiver = new Receiver({ universes: universes.split(',').map(Number), iface: '127.0.0.1', reuseAddr: true });

// A capture file of raw IPv4 (link type 101), each packet with headers put before it.
const records = [Buffer.from('d4c3b2a1020004000000000000000000ffff000065000000', 'hex')];
const start = process.hrtime.bigint();
const micros = () => Number((process.hrtime.bigint() - start) / 1000n);
function record(message, at) {
    const head = Buffer.alloc(28);
    head.set([0x45, 0, 0, 0, 0, 0, 0, 0, 1, 17]);
    head.writeUInt16BE(28 + message.length, 2);
    head.set([127, 0, 0, 1], 12);
    head.set([239, 255, 0, 1], 16);
    head.writeUInt16BE(5568, 20);
    head.writeUInt16BE(5568, 22);
    head.writeUInt16BE(8 + message.length, 24);
    const own = Buffer.alloc(16);
    own.writeUInt32LE(Math.floor(at / 1e6), 0);
    own.writeUInt32LE(at % 1e6, 4);
    own.writeUInt32LE(28 + message.length, 8);
    own.writeUInt32LE(28 + message.length, 12);
    records.push(own, head, message);
}

let timer, messages = 0;
const ended = new Map(universes.split(',').map((u) => [Number(u), 0])); // terminated packets
const end = () => { writeFileSync(capture, Buffer.concat(records)); process.exit(0); };
// Quiet is where nothing lies ready either: on a busy machine this program may have slept over it.
const endIfQuiet = () => { const before = messages; setImmediate(() => { if (messages === before) end(); }); };
receiver.socket.on('message', (message) => {
    record(message, micros());
    messages++;
    clearTimeout(timer);
    timer = setTimeout(endIfQuiet, [...ended.values()].every((n) => n >= 3) ? 150 : Number(quiet));
});
receiver.socket.prependListener('message', (m) => {
    const universe = m.readUInt16BE(113);
    if (ended.has(universe) && m[112] & 0x40) ended.set(universe, ended.get(universe) + 1);
});
receiver.on('packet', (p) => console.log([micros(), p.universe, p.sequence, p.options, p.priority, p.cid.toString('hex'),
    p.sourceName.replaceAll(' ', '_'), p.payloadAsBuffer.toString('hex')].join(' ')));
for (const trouble of ['error', 'PacketCorruption', 'PacketOutOfOrder'])
    receiver.on(trouble, (e) => console.log('TROUBLE ' + trouble + ' ' + e.message));
receiver.socket.on('listening', () => setTimeout(() => console.log('ready'), 50));
timer = setTimeout(end, 20000);
