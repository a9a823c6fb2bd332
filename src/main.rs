//! The `camwitness` program: exit status, nothing else.

fn main() {}
