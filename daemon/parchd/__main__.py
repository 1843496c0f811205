"""``python -m parchd``"""

import sys

from parchd.cli.main import main

sys.exit(main())
