//! NumPy archives (`.npz`): a column per array, or an array of several columns. The time is the
//! column named so (`time`, `t`, `time (ms)`), else the first one if it grows strictly, as in a
//! single array.

use super::npy;
use super::zip::Member;
use crate::capture::error::{Class, Fault, shown};
use crate::capture::options::ReadOptions;
use crate::capture::source::Source;
use crate::capture::table::whole::Whole;

/// Reads every array of one or two dimensions, piece by piece; single numbers beside them are left
/// alone.
pub(super) fn read(
    source: &Source,
    members: &[Member],
    options: &ReadOptions,
) -> Result<Whole, Fault> {
    let mut gathered = npy::Gathered::default();
    for member in members {
        let Some(key) = member.name.strip_suffix(".npy") else {
            return Err(not_an_array(&member.name));
        };
        let mut unpacking = member.open(source);
        let array = gathered.take(key, &mut unpacking, member.size, options);
        let array = array.map_err(|mut fault| {
            fault.what = format!("{}: {}", shown(key.as_bytes()), fault.what);
            fault
        })?;
        // Nothing follows an array's last number, so the sum of what was read is the member's.
        if array && !member.is_whole(&unpacking) {
            return Err(member.does_not_unpack());
        }
    }
    npy::build(gathered, options)
}

fn not_an_array(member: &str) -> Fault {
    Fault::new(
        Class::Unsupported,
        format!("it holds {}, which is no NumPy array, beside arrays", shown(member.as_bytes())),
        "Save an archive of arrays alone",
    )
}
