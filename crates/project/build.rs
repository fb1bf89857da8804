//! Makes the engine's fingerprint: a hash of every source and data file that results depend on.
//!
//! Kept results are keyed by it, so that a changed law never meets an old result, whatever the version number says.

use std::fs;
use std::path::{Path, PathBuf};

/// Crates whose results a standing is made of.
const ENGINE: [&str; 12] = [
    "air", "building", "climate", "fabric", "matter", "moisture", "numeric", "odds", "plant", "project",
    "quantity", "year",
];

fn main() {
    let mut files = Vec::new();
    for name in ENGINE {
        for part in ["src", "data"] {
            let folder = Path::new("..").join(name).join(part);
            if folder.exists() {
                println!("cargo:rerun-if-changed={}", folder.display());
                collect(&folder, &mut files);
            }
        }
    }
    println!("cargo:rerun-if-changed=build.rs");
    files.sort();
    // FNV-1a, 64 bit: a fingerprint against mistakes, not against malice.
    let mut hash: u64 = 0xcbf2_9ce4_8422_2325;
    let mut mix = |bytes: &[u8]| {
        for byte in bytes {
            hash = (hash ^ u64::from(*byte)).wrapping_mul(0x0100_0000_01b3);
        }
    };
    for file in &files {
        mix(file.to_string_lossy().replace('\\', "/").as_bytes());
        mix(&fs::read(file).unwrap_or_default());
    }
    println!("cargo:rustc-env=ENGINE_FINGERPRINT={hash:016x}");
}

fn collect(folder: &Path, files: &mut Vec<PathBuf>) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for path in entries.flatten().map(|e| e.path()) {
        if path.is_dir() {
            collect(&path, files);
        } else if path.extension().is_none_or(|e| e != "snap") {
            files.push(path);
        }
    }
}
