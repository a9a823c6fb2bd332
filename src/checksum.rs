//! Checksums of files and texts: SHA-256 (FIPS 180-4), written in hexadecimal.

use std::fmt::Write as _;

use sha2::{Digest, Sha256};

/// A checksum that is being worked out.
#[derive(Debug, Default)]
pub struct Checksum(Sha256);

impl Checksum {
    /// Takes the next bytes.
    pub fn take(&mut self, bytes: &[u8]) {
        self.0.update(bytes);
    }

    /// The checksum of all that was taken: 64 hexadecimal digits.
    #[must_use]
    pub fn hex(self) -> String {
        self.0.finalize().iter().fold(String::new(), |mut hex, byte| {
            let _ = write!(hex, "{byte:02x}");
            hex
        })
    }
}

/// The checksum of bytes: 64 hexadecimal digits.
#[must_use]
pub fn sha256(bytes: &[u8]) -> String {
    let mut sum = Checksum::default();
    sum.take(bytes);
    sum.hex()
}

#[cfg(test)]
mod tests {
    use super::sha256;

    /// NIST, "SHA-256 example", the messages "abc" and the one of two blocks.
    #[test]
    fn the_examples_of_the_standard() {
        assert_eq!(
            sha256(b"abc"),
            "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad"
        );
        assert_eq!(
            sha256(b"abcdbcdecdefdefgefghfghighijhijkijkljklmklmnlmnomnopnopq"),
            "248d6a61d20638b8e5c026930c3e6039a33ce45964ff2167f6ecedd419db06c1"
        );
    }
}
