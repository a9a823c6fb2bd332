//! The shelf as one file: a tar archive (ustar of POSIX.1-1988) packed with gzip (RFC 1952), with
//! the files of the folder under `camwitness-shelf/`. Unpacked anywhere it is a shelf.
//!
//! What is read may be anybody's: a file of it becomes an engine, a known-good or part of a job by
//! its place, and its name is never a path that is opened.

use std::collections::BTreeMap;
use std::io::Read;

use flate2::Compression;
use flate2::read::GzDecoder;
use flate2::write::GzEncoder;

use super::{ENGINES, JOBS, KNOWN_GOODS, MARK, Mark, VERSION};

/// Bytes that a packed shelf may hold, unpacked: all of it is in memory at once, on a tablet too.
pub const MOST_PACKED: u64 = 300_000_000;
/// The folder everything stands in, so that unpacking by hand scatters nothing.
const FOLDER: &str = "camwitness-shelf";
const ENGINE_END: &str = ".toml";
pub(super) const KNOWN_END: &str = ".known.toml";

/// Files of a job by their names: its record, result and report, outcomes, captures.
pub type JobFiles = BTreeMap<String, Vec<u8>>;

/// Everything that stands on a shelf.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Packed {
    /// Engine files by their names on the shelf.
    pub engines: BTreeMap<String, String>,
    /// Known-good files by the names of their engines.
    pub known_goods: BTreeMap<String, String>,
    /// Jobs by number.
    pub jobs: BTreeMap<u32, JobFiles>,
}

impl Packed {
    /// Bytes of everything.
    #[must_use]
    pub fn bytes(&self) -> u64 {
        let texts = self.engines.values().chain(self.known_goods.values()).map(String::len);
        let files = self.jobs.values().flat_map(JobFiles::values).map(Vec::len);
        texts.chain(files).map(|bytes| bytes as u64).sum()
    }

    /// As one file.
    ///
    /// # Errors
    /// It holds more than [`MOST_PACKED`]; in words.
    pub fn write(&self) -> Result<Vec<u8>, String> {
        within(self.bytes())?;
        let mut out = tar::Builder::new(GzEncoder::new(Vec::new(), Compression::default()));
        let mut add = |path: String, bytes: &[u8]| {
            let mut header = tar::Header::new_ustar();
            header.set_size(bytes.len() as u64);
            header.set_mode(0o644);
            // No time: the same shelf is the same file.
            header.set_mtime(0);
            out.append_data(&mut header, format!("{FOLDER}/{path}"), bytes)
        };
        let mark = toml::to_string(&Mark { camwitness_shelf: VERSION });
        let mark = mark.map_err(|error| error.to_string())?;
        let written = (|| {
            add(MARK.to_owned(), mark.as_bytes())?;
            for (name, text) in &self.engines {
                add(format!("{ENGINES}/{name}{ENGINE_END}"), text.as_bytes())?;
            }
            for (name, text) in &self.known_goods {
                add(format!("{KNOWN_GOODS}/{name}{KNOWN_END}"), text.as_bytes())?;
            }
            for (number, files) in &self.jobs {
                for (name, bytes) in files {
                    add(format!("{JOBS}/{number:04}/{name}"), bytes)?;
                }
            }
            Ok::<(), std::io::Error>(())
        })();
        written
            .and_then(|()| out.into_inner()?.finish())
            .map_err(|error| format!("the shelf cannot be packed: {error}"))
    }

    /// Reads what [`write`](Packed::write) wrote, or a shelf that somebody packed the same way.
    /// What has no place on a shelf is passed over.
    ///
    /// # Errors
    /// It is no such file, of a newer version, or holds more than [`MOST_PACKED`]; in words.
    pub fn read(bytes: &[u8]) -> Result<Packed, String> {
        let odd = |error: std::io::Error| {
            format!("this is no shelf packed as one file, or not all of it: {error}")
        };
        let mut archive = tar::Archive::new(GzDecoder::new(bytes));
        let (mut packed, mut marked, mut all) = (Packed::default(), false, 0);
        for entry in archive.entries().map_err(odd)? {
            let mut entry = entry.map_err(odd)?;
            if !entry.header().entry_type().is_file() {
                continue;
            }
            all += entry.size();
            within(all)?;
            let path = String::from_utf8_lossy(&entry.path_bytes()).into_owned();
            let mut bytes = Vec::new();
            entry.read_to_end(&mut bytes).map_err(odd)?;
            let parts: Vec<&str> = path.split('/').collect();
            if let [.., MARK] = parts.as_slice() {
                let text = String::from_utf8_lossy(&bytes);
                let mark = toml::from_str::<Mark>(&text)
                    .map_err(|error| format!("{MARK} cannot be used: {}", error.message()))?;
                if mark.camwitness_shelf > VERSION {
                    return Err(format!(
                        "this shelf is of version {}, and this program reads up to {VERSION}. Use the newer program",
                        mark.camwitness_shelf
                    ));
                }
                marked = true;
            } else {
                packed.place(&parts, bytes)?;
            }
        }
        if marked { Ok(packed) } else { Err(format!("this is no shelf: it has no {MARK}")) }
    }

    fn place(&mut self, parts: &[&str], bytes: Vec<u8>) -> Result<(), String> {
        let text = |bytes: Vec<u8>| {
            String::from_utf8(bytes).map_err(|_| format!("{} is no text", parts.join("/")))
        };
        match parts {
            [.., ENGINES, name] => {
                if let Some(name) = name.strip_suffix(ENGINE_END) {
                    self.engines.insert(name.to_owned(), text(bytes)?);
                }
            }
            [.., KNOWN_GOODS, name] => {
                if let Some(name) = name.strip_suffix(KNOWN_END) {
                    self.known_goods.insert(name.to_owned(), text(bytes)?);
                }
            }
            [.., JOBS, number, name] => {
                if let Some(number) = number.parse().ok().filter(|&number| number > 0) {
                    self.jobs.entry(number).or_default().insert((*name).to_owned(), bytes);
                }
            }
            _ => {}
        }
        Ok(())
    }
}

fn within(bytes: u64) -> Result<(), String> {
    if bytes <= MOST_PACKED {
        return Ok(());
    }
    Err(format!(
        "the shelf has {:.0} MB, and one file of it may hold {:.0} MB. Copy its folder instead",
        bytes as f64 / 1e6,
        MOST_PACKED as f64 / 1e6
    ))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn some() -> Packed {
        let files = [("job.toml", "x = 1"), ("c.csv", "t,crank\n"), ("report.html", "<p>")];
        let files = files.map(|(name, text)| (name.to_owned(), text.as_bytes().to_vec()));
        Packed {
            engines: [("Grau V6 ü".to_owned(), "name = 1".to_owned())].into(),
            known_goods: [("Grau V6 ü".to_owned(), "known = 1".to_owned())].into(),
            jobs: [(12, files.into())].into(),
        }
    }

    #[test]
    fn a_shelf_comes_back_as_it_was() {
        let packed = some().write().expect("packed");
        assert_eq!(Packed::read(&packed), Ok(some()));
        assert_eq!(packed, some().write().expect("packed"), "the same shelf is the same file");
        let empty = Packed::default();
        assert_eq!(Packed::read(&empty.write().expect("packed")), Ok(empty));
    }

    fn archive(files: &[(&str, &[u8])]) -> Vec<u8> {
        let mut out = tar::Builder::new(GzEncoder::new(Vec::new(), Compression::fast()));
        for (path, bytes) in files {
            let mut header = tar::Header::new_ustar();
            // As it is: `append_data` refuses what leads out of the folder.
            header.as_old_mut().name[..path.len()].copy_from_slice(path.as_bytes());
            header.set_size(bytes.len() as u64);
            header.set_cksum();
            out.append(&header, *bytes).expect("in memory");
        }
        out.into_inner().and_then(GzEncoder::finish).expect("in memory")
    }

    #[test]
    fn what_is_no_shelf_is_said() {
        let whole = some().write().expect("packed");
        let mark: (&str, &[u8]) = ("shelf.toml", b"camwitness_shelf = 1");
        // (file, what the message holds)
        let rows: [(Vec<u8>, &str); 7] = [
            (vec![], "no shelf"),
            (b"time,crank\n0,1\n".to_vec(), "no shelf"),
            (whole[..whole.len() / 2].to_vec(), "not all of it"),
            (archive(&[("engines/a.toml", b"")]), "no shelf.toml"),
            (archive(&[("shelf.toml", b"camwitness_shelf = 7")]), "version 7"),
            (archive(&[("shelf.toml", b"else = 7")]), "cannot be used"),
            (archive(&[mark, ("engines/a.toml", b"\xff")]), "engines/a.toml is no text"),
        ];
        for (bytes, want) in rows {
            let said = Packed::read(&bytes).expect_err(want);
            assert!(said.contains(want), "{said}, not {want}");
        }
    }

    #[test]
    fn a_file_that_unpacks_without_end_is_refused_unread() {
        let mut header = tar::Header::new_ustar();
        header.set_path("jobs/0001/c.csv").expect("a path");
        header.set_size(MOST_PACKED + 1);
        header.set_cksum();
        let mut out = GzEncoder::new(Vec::new(), Compression::fast());
        std::io::Write::write_all(&mut out, header.as_bytes()).expect("in memory");
        let said = Packed::read(&out.finish().expect("in memory")).expect_err("too large");
        assert!(said.contains("300 MB"), "{said}");
    }

    #[test]
    fn places_out_of_the_shelf_are_nobodys() {
        let packed = Packed::read(&archive(&[
            ("shelf.toml", b"camwitness_shelf = 1"),
            ("../../etc/passwd", b"x"),
            ("jobs/../x.csv", b"x"),
            ("notes/engines.toml", b"x"),
            ("engines/a.txt", b"x"),
        ]));
        assert_eq!(packed, Ok(Packed::default()));
    }
}
