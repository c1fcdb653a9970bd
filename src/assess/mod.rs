//! Judgement: rules with a margin, risks, ledgers, statistics.
