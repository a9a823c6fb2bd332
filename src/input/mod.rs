//! Small text files that describe something: read whole, and never more than such a file can be.

mod slips;
mod sniff;

pub use slips::{Tables, parse};
pub use sniff::{Content, looks_like};

use std::fs::File;
use std::io::{self, Read};
use std::path::Path;

/// Most bytes of a wheel, engine, known-good or job file: a thousand times what a person writes. A
/// wrong path may lead to a capture of gigabytes or to a device without an end.
const MOST_BYTES: u64 = 1 << 20;

/// Reads a description.
///
/// # Errors
/// As the operating system says, or that the file is too large for a description, or no text.
pub fn read_description(path: &Path) -> io::Result<String> {
    let mut text = String::new();
    let taken = File::open(path)?.take(MOST_BYTES + 1).read_to_string(&mut text);
    match taken {
        // Cut at the limit, a text may end within a letter.
        Ok(bytes) if bytes as u64 > MOST_BYTES => Err(too_large()),
        Err(_) if path.metadata().is_ok_and(|about| about.len() > MOST_BYTES) => Err(too_large()),
        Err(error) if error.kind() == io::ErrorKind::InvalidData => {
            Err(io::Error::new(io::ErrorKind::InvalidData, "it is no UTF-8 text"))
        }
        taken => taken.map(|_| text),
    }
}

fn too_large() -> io::Error {
    let what = format!("it has more than {MOST_BYTES} bytes, and no description is that long");
    io::Error::new(io::ErrorKind::FileTooLarge, what)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_description_is_read_up_to_its_limit() {
        let folder = tempfile::tempdir().expect("a folder");
        let most = MOST_BYTES as usize;
        let rows: [(&str, Vec<u8>, Option<&str>); 5] = [
            ("short", b"name = 1\n".to_vec(), None),
            ("full", vec![b' '; most], None),
            ("over", vec![b' '; most + 1], Some("more than 1048576 bytes")),
            ("binary and over", vec![0xff; most + 2], Some("more than 1048576 bytes")),
            ("binary", vec![0xff, 0xfe], Some("no UTF-8 text")),
        ];
        for (name, bytes, refused) in rows {
            let path = folder.path().join(name);
            std::fs::write(&path, &bytes).expect(name);
            match (read_description(&path), refused) {
                (Ok(text), None) => assert_eq!(text.as_bytes(), bytes),
                (Err(error), Some(why)) => assert!(error.to_string().contains(why), "{error}"),
                (other, _) => panic!("{name}: {:?}", other.map(|text| text.len())),
            }
        }
    }
}
