//! What a Rust block may take from the machine. The limits are set by the process that will run it, on itself, before any
//! code of a worksheet is loaded; they cannot be lifted from inside.

/// Memory of the process that blocks run in.
const MEMORY: u64 = 1 << 30;
/// Memory of the host, which holds what blocks print.
const HOST_MEMORY: u64 = 8 << 30;
/// Largest file that a block may write.
const FILE: u64 = 16 << 20;

/// Limits this process, which is about to run blocks. Says whether all that the system has were set.
#[cfg(unix)]
pub(crate) fn for_blocks() -> bool {
    use nix::sys::resource::{Resource, setrlimit};
    // Denied where the system lets an ordinary program do so; the host has found out and reported it.
    if std::env::var_os(NETWORK).is_some() && !deny_network() {
        return false;
    }
    #[cfg(not(target_os = "macos"))]
    if setrlimit(Resource::RLIMIT_AS, MEMORY, MEMORY).is_err() {
        return false;
    }
    setrlimit(Resource::RLIMIT_CORE, 0, 0).is_ok() && setrlimit(Resource::RLIMIT_FSIZE, FILE, FILE).is_ok()
}

#[cfg(not(unix))]
pub(crate) fn for_blocks() -> bool {
    true
}

/// Limits the host itself, so that a block that prints without end cannot take the machine's memory through it.
pub(crate) fn for_host() {
    #[cfg(all(unix, not(target_os = "macos")))]
    let _ = nix::sys::resource::setrlimit(nix::sys::resource::Resource::RLIMIT_AS, HOST_MEMORY, HOST_MEMORY);
}

/// What is limited here, in a sentence for the page.
pub(crate) fn terms(seconds: u64, network_denied: bool) -> String {
    let memory = if cfg!(all(unix, not(target_os = "macos"))) {
        format!("{} MiB of memory", MEMORY >> 20)
    } else {
        "no limit of memory, which this system does not offer".to_owned()
    };
    let network =
        if network_denied { "no network" } else { "the network not denied, since this system does not let it be" };
    format!("Run with a cleared environment, {seconds} s a run at most, {memory}, and {network}.")
}

/// Whether the system lets a program deny itself the network: found out in a process of its own, since what is given up is
/// given up for good.
pub(crate) fn network_can_be_denied() -> bool {
    let Ok(program) = std::env::current_exe() else { return false };
    let tried = std::process::Command::new(program).arg(TRY_NETWORK).output();
    tried.is_ok_and(|output| output.status.success())
}

/// The argument that has this program try it.
pub(crate) const TRY_NETWORK: &str = "--deny-network";

/// Asks the process that blocks run in to deny itself the network.
pub(crate) const NETWORK: &str = "BENCHLEAF_DENY_NETWORK";

/// Gives this process a network of its own, without any way out. Says whether the system allowed it.
#[cfg(target_os = "linux")]
pub(crate) fn deny_network() -> bool {
    use nix::{
        sched::{CloneFlags, unshare},
        unistd::{getegid, geteuid},
    };
    let (user, group) = (geteuid(), getegid());
    // It stays who it was, or its own files would be closed to it.
    let stay = || -> std::io::Result<()> {
        std::fs::write("/proc/self/setgroups", "deny")?;
        std::fs::write("/proc/self/uid_map", format!("{user} {user} 1"))?;
        std::fs::write("/proc/self/gid_map", format!("{group} {group} 1"))
    };
    unshare(CloneFlags::CLONE_NEWUSER | CloneFlags::CLONE_NEWNET).is_ok() && stay().is_ok()
}

#[cfg(not(target_os = "linux"))]
pub(crate) fn deny_network() -> bool {
    false
}
