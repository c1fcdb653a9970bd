//! The program: see `overwire --help`.

fn main() -> std::process::ExitCode {
    overwire::cli::main()
}
