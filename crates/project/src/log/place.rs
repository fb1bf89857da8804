//! Whether the log lies where a store cannot keep its promises: network disks and folders that a service keeps in step.

use std::path::Path;

/// File systems that live on another machine, or are passed through from one.
const NETWORK: &[&str] = &[
    "9p",
    "afs",
    "ceph",
    "cifs",
    "coda",
    "fuse.rclone",
    "fuse.s3fs",
    "fuse.sshfs",
    "glusterfs",
    "ncpfs",
    "nfs",
    "nfs4",
    "smb3",
    "smbfs",
    "vboxsf",
    "virtiofs",
];

/// Files and folders by which services mark what they keep in step. Technical marks, as they lie on disks.
const MARKS: &[&str] =
    &[".dropbox", ".dropbox.cache", ".stfolder", ".sync", ".owncloudsync.log", ".tmp.drivedownload"];

/// Names by which such folders go, whole or as their beginning.
const NAMES: &[&str] =
    &["Dropbox", "OneDrive", "Google Drive", "GoogleDrive", "iCloud", "Mobile Documents", "Nextcloud"];

/// Says what is risky about a folder, one sentence each; empty when nothing is known.
pub fn warnings(root: &Path) -> Vec<String> {
    let mut all = Vec::new();
    let table = std::fs::read_to_string("/proc/self/mounts").unwrap_or_default();
    if let Some(kind) = network(root, &table) {
        all.push(format!(
            "The project lies on a network disk ({kind}): two machines writing there at once can spoil the log. Keep it on \
             a local disk and hand it on with windtight log export."
        ));
    }
    if let Some(sign) = synced(root) {
        all.push(format!(
            "The project lies in a folder that a service keeps in step (seen by \"{sign}\"): it may copy the log half \
             written or put an older one back. Keep the project elsewhere and hand it on with windtight log export."
        ));
    }
    all
}

/// Returns the kind of network disk a folder lies on, by a table of mounts; or a network path of its own.
fn network(root: &Path, mounts: &str) -> Option<String> {
    let text = root.to_string_lossy();
    if text.starts_with(r"\\") && !text.starts_with(r"\\?\") || text.starts_with(r"\\?\UNC\") {
        return Some("a network path".to_owned());
    }
    let mut best: Option<(usize, &str)> = None;
    for line in mounts.lines() {
        let mut parts = line.split(' ').skip(1);
        let (Some(at), Some(kind)) = (parts.next(), parts.next()) else { continue };
        // Blanks in mount points are written as octal.
        let at = at.replace("\\040", " ");
        // A later mount over the same place hides the earlier.
        if root.starts_with(&at) && best.is_none_or(|(length, _)| at.len() >= length) {
            best = Some((at.len(), kind));
        }
    }
    best.filter(|(_, kind)| NETWORK.contains(kind)).map(|(_, kind)| kind.to_owned())
}

/// Returns the sign by which a folder or one above it is known to be kept in step by a service.
fn synced(root: &Path) -> Option<String> {
    for folder in root.ancestors() {
        let name = folder.file_name().map(|n| n.to_string_lossy().into_owned()).unwrap_or_default();
        if NAMES
            .iter()
            .any(|n| name == *n || name.starts_with(&format!("{n} ")) || name.starts_with(&format!("{n}-")))
        {
            return Some(name);
        }
        if let Some(mark) = MARKS.iter().find(|mark| folder.join(mark).exists()) {
            return Some((*mark).to_owned());
        }
    }
    None
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_innermost_mount_decides() {
        let mounts = "disk / ext4 rw 0 0\nserver:/a /mnt/site\\040share nfs4 rw 0 0\ndisk /mnt/site\\040share/own ext4 rw 0 0\n";
        assert_eq!(network(Path::new("/home/a"), mounts), None);
        assert_eq!(network(Path::new("/mnt/site share/school"), mounts).as_deref(), Some("nfs4"));
        assert_eq!(network(Path::new("/mnt/site share/own/school"), mounts), None);
        assert!(network(Path::new(r"\\server\share\school"), "").is_some());
    }

    #[test]
    fn a_mark_above_is_seen() {
        let dir = tempfile::tempdir().expect("a temporary folder");
        let project = dir.path().join("jobs/school");
        std::fs::create_dir_all(&project).expect("made");
        assert!(warnings(&project).is_empty(), "{:?}", warnings(&project));
        std::fs::write(dir.path().join(".stfolder"), "").expect("written");
        assert_eq!(warnings(&project).len(), 1);
    }
}
