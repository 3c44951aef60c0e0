# What the scripts of this folder share: to be sourced, from the root of the repository.

say() { printf '\n== %s\n' "$*"; }

need_command() { # NAME WORDS: stops where there is no such command, and says what for it is needed
    command -v "$1" >/dev/null && return 0
    echo "no $1 here, and none could be installed: $2" >&2
    exit 1
}

need_package() { # NAME...: installs the Debian packages that are missing
    local missing=() name sudo=""
    for name in "$@"; do
        dpkg -s "$name" >/dev/null 2>&1 || missing+=("$name")
    done
    [ ${#missing[@]} = 0 ] && return 0
    if ! command -v apt-get >/dev/null; then
        say "please install what your system has for: ${missing[*]}"
        return 0
    fi
    say "installing ${missing[*]}"
    [ "$(id -u)" = 0 ] || sudo=sudo
    $sudo apt-get update -qq
    $sudo apt-get install -y -qq --no-install-recommends "${missing[@]}" >/dev/null
}

has_wasm() { # whether this toolchain has a standard library for wasm32
    rustup target list --installed 2>/dev/null | grep -q wasm32-unknown-unknown
}

need_wasm() { # where it has none: Debian ships its source and a compiler that builds it
    has_wasm || need_package rustc-web cargo-web rust-web-src lld-22
}

wasm_cargo() { # COMMAND ARGUMENT...: cargo for wasm32-unknown-unknown
    if has_wasm; then
        cargo "$@" --target wasm32-unknown-unknown
    else
        need_wasm
        CARGO_TARGET_WASM32_UNKNOWN_UNKNOWN_LINKER=/usr/lib/llvm-22/bin/wasm-ld \
            RUSTC_BOOTSTRAP=1 RUSTC=/usr/bin/rustc PATH=/usr/bin:$PATH /usr/share/cargo/bin/cargo \
            "$@" --target wasm32-unknown-unknown -Zbuild-std=std,panic_abort
    fi
}
