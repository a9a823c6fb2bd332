//! The `camwitness` program: exit status, nothing else.

fn main() -> std::process::ExitCode {
    camwitness::cli::run()
}
