//! Memory for a column, asked for before it is needed.

use crate::capture::error::{Class, Fault};

/// A system that has not the memory for the whole is asked for what is needed now, and only then
/// refuses: running out must end in a message, not in an abort.
pub(super) fn make_room<T>(column: &mut Vec<T>, now: usize, whole: usize) -> Result<(), Fault> {
    if column.is_empty() && column.try_reserve_exact(whole.max(now)).is_ok() {
        return Ok(());
    }
    column.try_reserve(now).map_err(|_| no_memory())
}

/// The message for a capture that does not fit.
pub(crate) fn no_memory() -> Fault {
    Fault::new(
        Class::TooLarge,
        "this computer has not enough memory free for the capture",
        "Close other programs, or export a shorter capture or fewer channels",
    )
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn too_little_memory_is_said() {
        let fault = make_room(&mut vec![1_u8], usize::MAX / 2, 0).expect_err("2^63 bytes");
        assert!(fault.what.contains("not enough memory"), "{}", fault.what);
    }
}
