// A JPEG's head with notes as the Exif standard lays them out (CIPA DC-008, from memory).
export function camera({ time = "2026:05:12 08:30:15", zone = "", little = true, before = 0 } = {}) {
  const rows = [[0x9003, 2, `${time}\0`], ...(zone ? [[0x9011, 2, `${zone}\0`]] : [])];
  const tiff = new DataView(new ArrayBuffer(400));
  const text = (at, said) => [...said].forEach((one, n) => tiff.setUint8(at + n, one.charCodeAt(0)));
  tiff.setUint16(0, little ? 0x4949 : 0x4d4d);
  tiff.setUint16(2, 42, little);
  tiff.setUint32(4, 8, little);
  tiff.setUint16(8, 1, little);
  tiff.setUint16(10, 0x8769, little);
  tiff.setUint16(12, 4, little);
  tiff.setUint32(14, 1, little);
  tiff.setUint32(18, 30, little);
  tiff.setUint16(30, rows.length, little);
  let free = 200;
  rows.forEach(([tag, kind, said], n) => {
    const row = 32 + n * 12;
    tiff.setUint16(row, tag, little);
    tiff.setUint16(row + 2, kind, little);
    tiff.setUint32(row + 4, said.length, little);
    if (said.length > 4) {
      tiff.setUint32(row + 8, free, little);
      text(free, said);
      free += said.length;
    } else text(row + 8, said);
  });
  const other = before ? [0xff, 0xe0, 0, before + 2, ...new Array(before).fill(1)] : [];
  const head = [0xff, 0xd8, ...other, 0xff, 0xe1, 0x01, 0x98, 0x45, 0x78, 0x69, 0x66, 0, 0];
  return new Uint8Array([...head, ...new Uint8Array(tiff.buffer), 0xff, 0xda, 0, 0]);
}
