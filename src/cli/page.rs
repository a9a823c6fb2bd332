//! `camwitness page`: the same work in a browser on this computer.

use std::io::Write;
use std::path::PathBuf;
use std::sync::Arc;

use clap::Args;

use super::shelf::ShelfArgs;
use super::shop::LocalShop;
use super::watching::Watching;
use super::{DONE, Failure, Job};
use crate::output::Files;
use crate::page::MAX_UPLOAD;
use crate::page::server::{Key, listen, number, serve};
use crate::page::service::{MOST_MEMORY, Service, Setup, UploadLimit};

/// Options of `page`.
#[derive(Debug, Args)]
pub struct PageArgs {
    /// Port on this computer; a free one when not given
    #[arg(long, default_value_t = 0)]
    port: u16,
    /// Largest upload, in bytes or with k, M or G
    #[arg(long, value_name = "SIZE", default_value_t = Size(MAX_UPLOAD))]
    max_upload: Size,
    /// Memory for captures and results together, in bytes or with k, M or G: beyond it captures
    /// leave, the oldest first
    #[arg(long, value_name = "SIZE", default_value_t = Size(MOST_MEMORY))]
    memory: Size,
    /// Watch a folder: a capture saved there is read and judged with the engine chosen on the page
    #[arg(long, value_name = "FOLDER", value_parser = watched)]
    watch: Option<Watched>,
    /// Do not open the browser
    #[arg(long)]
    no_browser: bool,
    #[command(flatten)]
    place: ShelfArgs,
}

/// A folder that is looked into, and of which nothing is changed.
#[derive(Debug, Clone)]
struct Watched(PathBuf);

fn watched(text: &str) -> Result<Watched, String> {
    if text.trim().is_empty() { Err("name a folder".into()) } else { Ok(Watched(text.into())) }
}

/// A number of bytes, as people write it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
struct Size(u64);

impl std::fmt::Display for Size {
    fn fmt(&self, out: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        match self.0 {
            bytes if bytes >= 1_000_000 && bytes % 1_000_000 == 0 => {
                write!(out, "{}M", bytes / 1_000_000)
            }
            bytes => write!(out, "{bytes}"),
        }
    }
}

impl std::str::FromStr for Size {
    type Err = String;

    fn from_str(text: &str) -> Result<Size, String> {
        let text = text.trim().trim_end_matches(['b', 'B']).trim_end();
        let (number, unit) = match text.char_indices().last() {
            Some((at, 'k' | 'K')) => (&text[..at], 1_000),
            Some((at, 'm' | 'M')) => (&text[..at], 1_000_000),
            Some((at, 'g' | 'G')) => (&text[..at], 1_000_000_000),
            _ => (text, 1),
        };
        let bytes = number.trim().parse::<u64>().ok().and_then(|number| number.checked_mul(unit));
        match bytes {
            Some(bytes) if bytes > 0 => Ok(Size(bytes)),
            _ => Err("write a size such as 200M or 2G".into()),
        }
    }
}

impl Job for PageArgs {
    /// It holds everything in memory; only the shelf is written to, by its own rules.
    fn files(&self) -> Files {
        Files::default()
    }

    /// Serves until interrupted.
    fn run(&self) -> Result<(String, u8), Failure> {
        run(self).map(|()| (String::new(), DONE))
    }
}

fn run(args: &PageArgs) -> Result<(), Failure> {
    let watching = args.watch.as_ref().map(|folder| Watching::of(&folder.0)).transpose()?;
    let (listener, port) = listen(args.port)?;
    let key = Key::new()
        .map_err(|error| Failure(format!("the system gives no key for the page: {error}")))?;
    let address = key.address(port);
    let mut out = std::io::stdout().lock();
    // Whoever started this without a terminal still gets the page.
    let _ = writeln!(
        out,
        "The page is at {address} on this computer alone, for you alone. Ctrl-C stops it."
    );
    let _ = out.flush();
    drop(out);
    if !args.no_browser && open::that_detached(&address).is_err() {
        super::say(&format!("no browser could be opened. Open {address} yourself."));
    }
    let most = UploadLimit {
        bytes: args.max_upload.0,
        to_raise: "start the page again with a larger limit for files",
    };
    let service = Service::with(Setup {
        most,
        memory: args.memory.0,
        draw: Some(number),
        shop: Some(Arc::new(LocalShop(args.place.clone()))),
        watching: args.watch.as_ref().map(|folder| folder.0.display().to_string()),
    });
    if let Some(watching) = watching {
        let (service, most) = (service.clone(), args.max_upload.0);
        // It ends with the program.
        std::thread::spawn(move || watching.go_on(&service, most));
    }
    Ok(serve(listener, service, Some(key))?)
}

#[cfg(test)]
mod tests {
    use super::Size;

    #[test]
    fn sizes_are_read_as_people_write_them() {
        let rows = [("200M", 200_000_000), ("2G", 2_000_000_000), ("10 kB", 10_000), ("512", 512)];
        for (text, want) in rows {
            assert_eq!(text.parse(), Ok(Size(want)), "{text}");
        }
        for bad in ["", "M", "0", "-1", "1.5G", "99999999999G"] {
            assert!(bad.parse::<Size>().is_err(), "{bad}");
        }
    }
}
