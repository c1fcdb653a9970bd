//! What happened, why it mattered and what else would have: timeline, causes, report.
