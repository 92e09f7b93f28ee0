"""What is inside the machine in software is collected there only."""

import os

collect_ignore_glob = (
    [] if os.environ.get("TREADLE_INSIDE") else ["inside/*", "managed/*"]
)
