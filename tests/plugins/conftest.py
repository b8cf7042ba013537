"""The packages in this folder are installed by tests, and not tests themselves."""

collect_ignore_glob = ["*"]
