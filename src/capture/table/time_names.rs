//! What a column of times may be called.

/// Whether a header without its unit names a time.
pub(super) fn is_time_name(name: &str) -> bool {
    let lower = name.trim().to_lowercase().replace('_', " ");
    TIME_NAMES.contains(&lower.as_str())
        || ["time ", "time(", "time["].iter().any(|start| lower.starts_with(start))
}

/// Names of a time column, in lower case, as export dialogs of several languages write them
/// (common practice, no source).
const TIME_NAMES: [&str; 25] = [
    "time",
    "t",
    "x",
    "x-axis",
    "x axis",
    "zeit",
    "temps",
    "tiempo",
    "tempo",
    "seconds",
    "timestamp",
    "elapsed",
    "elapsed time",
    "relative time",
    "time stamp",
    "date time",
    "date/time",
    "datetime",
    "время",
    "час",
    "czas",
    "čas",
    "tid",
    "时间",
    "時間",
];
