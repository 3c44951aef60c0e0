//! The `wyebench` program.

fn main() {}
