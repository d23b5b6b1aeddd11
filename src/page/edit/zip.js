// A zip file of stored members (PKWARE's APPNOTE, 4.3): nothing is packed, so every member lies in it byte for byte.

function crc32(bytes) {
  let crc = -1;
  for (const byte of bytes) {
    crc ^= byte;
    for (let k = 0; k < 8; k++) crc = (crc >>> 1) ^ (crc & 1 ? 0xedb88320 : 0);
  }
  return ~crc >>> 0;
}

// `files`: [[name, Uint8Array]]. Names are UTF-8; the date is the format's first, so the same files give the same zip.
function zipOf(files) {
  const number = (size, value) => Array.from({ length: size }, (_, k) => (value >>> (8 * k)) & 255);
  const parts = [];
  const list = [];
  let at = 0;
  for (const [name, bytes] of files) {
    const words = new TextEncoder().encode(name);
    const about = [...number(2, 20), ...number(2, 0x800), ...number(2, 0), ...number(2, 0), ...number(2, 0x21),
      ...number(4, crc32(bytes)), ...number(4, bytes.length), ...number(4, bytes.length), ...number(2, words.length), ...number(2, 0)];
    const head = new Uint8Array([0x50, 0x4b, 3, 4, ...about]);
    list.push(new Uint8Array([0x50, 0x4b, 1, 2, ...number(2, 20), ...about, ...number(2, 0), ...number(2, 0), ...number(2, 0),
      ...number(4, 0), ...number(4, at)]), words);
    parts.push(head, words, bytes);
    at += head.length + words.length + bytes.length;
  }
  const listed = list.reduce((sum, part) => sum + part.length, 0);
  const end = new Uint8Array([0x50, 0x4b, 5, 6, 0, 0, 0, 0, ...number(2, files.length), ...number(2, files.length),
    ...number(4, listed), ...number(4, at), 0, 0]);
  return new Blob([...parts, ...list, end], { type: "application/zip" });
}
