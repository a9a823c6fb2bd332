//! NumPy files written byte by byte, for tests that need one no library would write.

/// A NumPy array (format 1.0) of doubles or singles, by `numpy.lib.format`'s documentation.
pub fn npy(kind: &str, shape: &str, data: Vec<u8>) -> Vec<u8> {
    let header = format!("{{'descr': '{kind}', 'fortran_order': False, 'shape': {shape}, }}\n");
    let mut bytes = b"\x93NUMPY\x01\x00".to_vec();
    bytes.extend((header.len() as u16).to_le_bytes());
    bytes.extend(header.as_bytes());
    bytes.extend(data);
    bytes
}

/// A ZIP archive of stored members (APPNOTE 4.3), checksums by flate2.
pub fn archive<N: AsRef<str>>(members: &[(N, Vec<u8>)]) -> Vec<u8> {
    let (mut bytes, mut directory) = (Vec::new(), Vec::new());
    for (name, data) in members {
        let name = name.as_ref();
        let mut sum = flate2::Crc::new();
        sum.update(data);
        let mut facts = vec![20, 0, 0, 0, 0, 0, 0, 0, 0, 0];
        facts.extend(sum.sum().to_le_bytes());
        facts.extend([data.len() as u32; 2].map(u32::to_le_bytes).concat());
        facts.extend((name.len() as u16).to_le_bytes());
        facts.extend([0, 0]);
        let at = bytes.len() as u32;
        bytes.extend(b"PK\x03\x04");
        bytes.extend(&facts);
        bytes.extend(name.as_bytes());
        bytes.extend(data);
        directory.extend(b"PK\x01\x02\x14\x00");
        directory.extend(&facts);
        directory.extend([0; 10]);
        directory.extend(at.to_le_bytes());
        directory.extend(name.as_bytes());
    }
    let (at, count) = (bytes.len() as u32, members.len() as u16);
    bytes.extend(&directory);
    bytes.extend(b"PK\x05\x06\0\0\0\0");
    bytes.extend([count.to_le_bytes(), count.to_le_bytes()].concat());
    bytes.extend((directory.len() as u32).to_le_bytes());
    bytes.extend(at.to_le_bytes());
    bytes.extend([0, 0]);
    bytes
}
