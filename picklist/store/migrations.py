"""The steps by which the state file grew, each applied once and in order; ``user_version`` counts them."""

from __future__ import annotations

# Plans, the carts they are about, the lists that were printed, put-backs and open questions.
LISTS = (
    """
    CREATE TABLE plan (
        day TEXT NOT NULL,
        revision INTEGER NOT NULL CHECK (revision >= 1),
        replaces INTEGER,
        made_at TEXT NOT NULL,
        made_by TEXT NOT NULL DEFAULT '',
        digest TEXT NOT NULL,
        json BLOB NOT NULL,
        PRIMARY KEY (day, revision)
    )
    """,
    # A cart is one thing on wheels for one case, whatever numbers and lists the case goes through.
    """
    CREATE TABLE cart (
        cart_id INTEGER PRIMARY KEY,
        day TEXT NOT NULL,
        number TEXT NOT NULL,
        kept_as TEXT NOT NULL,
        opened INTEGER NOT NULL,
        closed INTEGER
    )
    """,
    "CREATE UNIQUE INDEX open_cart ON cart (day, kept_as) WHERE closed IS NULL",
    """
    CREATE TABLE cart_list (
        cart_id INTEGER NOT NULL REFERENCES cart,
        revision INTEGER NOT NULL,
        number TEXT NOT NULL,
        replaces INTEGER,
        made_at TEXT NOT NULL,
        room TEXT NOT NULL,
        start_at TEXT NOT NULL,
        surgeon TEXT NOT NULL,
        procedures TEXT NOT NULL,
        PRIMARY KEY (cart_id, revision)
    )
    """,
    "CREATE INDEX list_of_number ON cart_list (number, revision)",
    """
    CREATE TABLE list_piece (
        cart_id INTEGER NOT NULL,
        revision INTEGER NOT NULL,
        kind TEXT NOT NULL,
        thing TEXT NOT NULL,
        wanted TEXT NOT NULL,
        part TEXT NOT NULL,
        set_id TEXT NOT NULL,
        copy INTEGER NOT NULL,
        lot TEXT NOT NULL,
        place TEXT NOT NULL,
        person TEXT NOT NULL,
        name TEXT NOT NULL,
        expiry TEXT,
        home TEXT NOT NULL,
        quantity INTEGER NOT NULL CHECK (quantity > 0),
        FOREIGN KEY (cart_id, revision) REFERENCES cart_list
    )
    """,
    "CREATE INDEX piece_of_list ON list_piece (cart_id, revision)",
    """
    CREATE TABLE put_back (
        put_back_id INTEGER PRIMARY KEY,
        day TEXT NOT NULL,
        revision INTEGER NOT NULL,
        number TEXT NOT NULL,
        kind TEXT NOT NULL,
        thing TEXT NOT NULL,
        set_id TEXT NOT NULL,
        lot TEXT NOT NULL,
        quantity INTEGER NOT NULL,
        home TEXT NOT NULL,
        to_cart TEXT NOT NULL,
        done_at TEXT,
        done_by TEXT NOT NULL DEFAULT ''
    )
    """,
    """
    CREATE TABLE open_question (
        day TEXT NOT NULL,
        new_case TEXT NOT NULL,
        kept_as TEXT NOT NULL,
        score INTEGER NOT NULL,
        agrees TEXT NOT NULL,
        differs TEXT NOT NULL,
        asked_in INTEGER NOT NULL,
        PRIMARY KEY (day, new_case, kept_as)
    )
    """,
)

# What the crew reported about carts; a later report on a cart takes the place of an earlier one.
BUILT_CARTS = (
    """
    CREATE TABLE built_cart (
        built_id INTEGER PRIMARY KEY,
        cart_id INTEGER NOT NULL REFERENCES cart,
        day TEXT NOT NULL,
        number TEXT NOT NULL,
        revision INTEGER NOT NULL,
        built_at TEXT NOT NULL,
        told_at TEXT NOT NULL,
        told_from TEXT NOT NULL,
        done INTEGER NOT NULL CHECK (done IN (0, 1)),
        built_by TEXT NOT NULL,
        remark TEXT NOT NULL
    )
    """,
    "CREATE INDEX built_of_cart ON built_cart (cart_id, built_id)",
    """
    CREATE TABLE built_set (
        built_id INTEGER NOT NULL REFERENCES built_cart,
        tray TEXT NOT NULL,
        copy INTEGER NOT NULL,
        set_id TEXT NOT NULL
    )
    """,
    """
    CREATE TABLE built_missing (
        built_id INTEGER NOT NULL REFERENCES built_cart,
        thing TEXT NOT NULL,
        copy INTEGER NOT NULL,
        person TEXT NOT NULL,
        quantity INTEGER NOT NULL
    )
    """,
    """
    CREATE TABLE built_stood_in (
        built_id INTEGER NOT NULL REFERENCES built_cart,
        thing TEXT NOT NULL,
        stood_in TEXT NOT NULL,
        person TEXT NOT NULL,
        quantity INTEGER NOT NULL
    )
    """,
    """
    CREATE TABLE built_count (
        built_id INTEGER NOT NULL REFERENCES built_cart,
        item TEXT NOT NULL,
        lot TEXT NOT NULL,
        place TEXT NOT NULL,
        quantity INTEGER NOT NULL
    )
    """,
    """
    CREATE TABLE built_item (
        built_id INTEGER NOT NULL REFERENCES built_cart,
        item TEXT NOT NULL,
        lot TEXT NOT NULL,
        expiry TEXT,
        quantity INTEGER NOT NULL,
        by_hand INTEGER NOT NULL CHECK (by_hand IN (0, 1))
    )
    """,
)

# What was used and what came back unopened, and the rows of tables that follow from it.
USAGE = (
    """
    CREATE TABLE usage_line (
        day TEXT NOT NULL,
        number TEXT NOT NULL,
        surgeon TEXT NOT NULL,
        procedures TEXT NOT NULL,
        kind TEXT NOT NULL,
        thing TEXT NOT NULL,
        person TEXT NOT NULL,
        set_id TEXT NOT NULL,
        open INTEGER NOT NULL CHECK (open >= 0),
        hold INTEGER NOT NULL CHECK (hold >= 0),
        added INTEGER NOT NULL CHECK (added >= 0),
        used INTEGER NOT NULL CHECK (used >= 0),
        unopened INTEGER NOT NULL CHECK (unopened >= 0),
        told_at TEXT NOT NULL,
        told_by TEXT NOT NULL,
        PRIMARY KEY (day, number, kind, thing, person, set_id)
    )
    """,
    "CREATE INDEX usage_of_surgeon ON usage_line (surgeon, procedures)",
    """
    CREATE TABLE table_change (
        change_id INTEGER PRIMARY KEY,
        day TEXT NOT NULL,
        table_name TEXT NOT NULL,
        row_key TEXT NOT NULL,
        column_name TEXT NOT NULL,
        was TEXT NOT NULL,
        becomes TEXT NOT NULL,
        why TEXT NOT NULL,
        made_at TEXT NOT NULL,
        applied_at TEXT
    )
    """,
)

# What a person decided about a conflict.
DECISIONS = (
    """
    CREATE TABLE decision (
        decision_id INTEGER PRIMARY KEY,
        day TEXT NOT NULL,
        conflict TEXT NOT NULL,
        decided TEXT NOT NULL,
        decided_by TEXT NOT NULL,
        decided_at TEXT NOT NULL
    )
    """,
    "CREATE INDEX decision_on ON decision (day, conflict, decision_id)",
)

# Who was told of a conflict or a shortage, beside what was decided.
WHO_WAS_TOLD = ("ALTER TABLE decision ADD COLUMN told TEXT NOT NULL DEFAULT ''",)

# Who reported each line and when, carts being scanned, trays that a built cart waits for, and files that were read.
_LINES = ("built_set", "built_missing", "built_stood_in", "built_count", "built_item")

WHO_REPORTED = (
    # Empty in lines of before: they count as those of their report.
    *(f"ALTER TABLE {table} ADD COLUMN line_by TEXT" for table in _LINES),
    *(f"ALTER TABLE {table} ADD COLUMN line_at TEXT" for table in _LINES),
    "ALTER TABLE built_cart ADD COLUMN going_on INTEGER NOT NULL DEFAULT 0 CHECK (going_on IN (0, 1))",
    """
    CREATE TABLE built_to_come (
        built_id INTEGER NOT NULL REFERENCES built_cart,
        tray TEXT NOT NULL,
        copy INTEGER NOT NULL,
        set_id TEXT NOT NULL,
        expected TEXT NOT NULL,
        line_by TEXT,
        line_at TEXT
    )
    """,
    """
    CREATE TABLE scanned_file (
        day TEXT NOT NULL,
        digest TEXT NOT NULL,
        read_at TEXT NOT NULL,
        PRIMARY KEY (day, digest)
    )
    """,
)

# What was counted into the site's tables, cart by cart and thing by thing, and the writes that did it.
COUNTED = (
    "ALTER TABLE usage_line ADD COLUMN unopened_told INTEGER NOT NULL DEFAULT 1 CHECK (unopened_told IN (0, 1))",
    # Before, what nobody wrote was stored as worked out from the list.
    """
    UPDATE usage_line SET unopened_told = 0
    WHERE unopened = open + hold + added - max(open + added, used)
    """,
    # ``how`` is NULL from the moment before the first file is put in place until the last one stands.
    """
    CREATE TABLE settlement (
        settlement_id INTEGER PRIMARY KEY,
        day TEXT NOT NULL,
        made_at TEXT NOT NULL,
        files TEXT NOT NULL,
        counts TEXT NOT NULL,
        how TEXT
    )
    """,
    """
    CREATE TABLE counted_item (
        cart TEXT NOT NULL,
        item TEXT NOT NULL,
        lot TEXT NOT NULL,
        place TEXT NOT NULL,
        row_lot TEXT NOT NULL,
        row_place TEXT NOT NULL,
        taken INTEGER NOT NULL CHECK (taken >= 0),
        back INTEGER NOT NULL CHECK (back >= 0),
        built_at TEXT NOT NULL,
        over_at TEXT NOT NULL,
        PRIMARY KEY (cart, item, lot, place)
    )
    """,
    "CREATE INDEX counted_of_lot ON counted_item (item, row_lot, row_place)",
    """
    CREATE TABLE counted_shelf (
        cart TEXT NOT NULL,
        item TEXT NOT NULL,
        row_lot TEXT NOT NULL,
        row_place TEXT NOT NULL,
        counted_at TEXT NOT NULL,
        quantity INTEGER NOT NULL,
        PRIMARY KEY (cart, item, row_lot, row_place)
    )
    """,
    """
    CREATE TABLE counted_set (
        cart TEXT NOT NULL,
        set_id TEXT NOT NULL,
        opened INTEGER NOT NULL CHECK (opened IN (0, 1)),
        since TEXT NOT NULL,
        written INTEGER NOT NULL CHECK (written IN (0, 1)),
        recorded_at TEXT,
        recorded_until TEXT,
        PRIMARY KEY (cart, set_id)
    )
    """,
    # Days that a version wrote which did not yet remember its counts: nothing of them is counted again.
    "CREATE TABLE settled_before (day TEXT PRIMARY KEY, at TEXT NOT NULL)",
    """
    INSERT INTO settled_before
    SELECT day, max(applied_at) FROM table_change WHERE applied_at IS NOT NULL GROUP BY day
    """,
)

# Filled forms that were taken in, by the mark of their contents, and what they last said of each cart.
FORMS_TAKEN = (
    "CREATE TABLE form_taken (digest TEXT PRIMARY KEY, form TEXT NOT NULL, taken_at TEXT NOT NULL)",
    "CREATE TABLE form_said (day TEXT NOT NULL, number TEXT NOT NULL, digest TEXT NOT NULL, PRIMARY KEY (day, number))",
)

# The offices' cards: the log of changes, requests and answers, rejections, proposals that wait, workbooks sent.
#
# A ``record`` is the JSON of a dataclass (see ``store.typed_records``). The log is only added to. ``card_file`` names
# the files of an earlier version that were brought in, by the mark of their contents.
LOG = ("card_change", "card_request", "card_answer", "card_rejection")

CARDS = (
    *(f"CREATE TABLE {table} (number INTEGER PRIMARY KEY, record TEXT NOT NULL)" for table in LOG),
    *(
        f"CREATE TRIGGER {table}_{verb.lower()} BEFORE {verb} ON {table} "
        "BEGIN SELECT RAISE(ABORT, 'the log is only added to'); END"
        for table in LOG
        for verb in ("UPDATE", "DELETE")
    ),
    "CREATE TABLE card_write (number INTEGER PRIMARY KEY, record TEXT NOT NULL, how TEXT)",
    "CREATE TABLE card_proposal (id TEXT PRIMARY KEY, record TEXT NOT NULL)",
    "CREATE TABLE card_sent (version TEXT PRIMARY KEY, record TEXT NOT NULL)",
    "CREATE TABLE card_file (digest TEXT PRIMARY KEY, file TEXT NOT NULL)",
)

# Scheduling messages of other systems: what a white list lets in, and the key by which texts become marks.
MESSAGES = (
    "CREATE TABLE message_key (key TEXT NOT NULL)",
    """CREATE TABLE message (
        serial INTEGER PRIMARY KEY,
        arrived TEXT NOT NULL,
        control TEXT NOT NULL,
        appointment TEXT NOT NULL,
        digest TEXT NOT NULL,
        answer TEXT NOT NULL,
        place TEXT NOT NULL,
        why TEXT NOT NULL,
        event TEXT
    )""",
    "CREATE INDEX message_digest ON message (digest)",
    "CREATE INDEX message_appointment ON message (appointment)",
    "CREATE TABLE message_schedule (digest TEXT NOT NULL)",
)

# Serial numbers of what was scanned, and lot, expiry and serial number of what was used.
SERIALS = (
    "ALTER TABLE built_item ADD COLUMN serial TEXT NOT NULL DEFAULT ''",
    """
    CREATE TABLE usage_piece (
        day TEXT NOT NULL,
        number TEXT NOT NULL,
        kind TEXT NOT NULL,
        thing TEXT NOT NULL,
        person TEXT NOT NULL,
        set_id TEXT NOT NULL,
        lot TEXT NOT NULL,
        expiry TEXT,
        serial TEXT NOT NULL,
        used INTEGER NOT NULL CHECK (used >= 0)
    )
    """,
    "CREATE INDEX piece_of_usage ON usage_piece (day, number, kind, thing, person, set_id)",
)

# What becomes of a decision: its case's day, its matter in words, the moves decided on, what plans showed of it.
DECISIONS_KEPT = (
    "ALTER TABLE decision ADD COLUMN case_day TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE decision ADD COLUMN told_at TEXT",
    "ALTER TABLE decision ADD COLUMN matter TEXT NOT NULL DEFAULT ''",
    "ALTER TABLE decision ADD COLUMN moves TEXT NOT NULL DEFAULT '[]'",
    "UPDATE decision SET case_day = day, told_at = CASE told WHEN '' THEN NULL ELSE decided_at END",
    "CREATE INDEX decision_of_case ON decision (case_day, conflict, decision_id)",
    """
    CREATE TABLE decision_seen (
        case_day TEXT NOT NULL,
        conflict TEXT NOT NULL,
        decided TEXT NOT NULL,
        plan_day TEXT NOT NULL,
        revision INTEGER NOT NULL,
        arrived INTEGER NOT NULL CHECK (arrived IN (0, 1)),
        PRIMARY KEY (case_day, conflict, decided, plan_day, revision)
    )
    """,
)

# Cells that were fixed on the page and can be put back as they were.
FIXED_CELLS = ("CREATE TABLE cell_fix (number INTEGER PRIMARY KEY, record TEXT NOT NULL)",)

# A mark made of a site's first plan; it stays when that plan gets its remedies.
MARK_OF_SITE = ("ALTER TABLE plan ADD COLUMN mark TEXT",)

MIGRATIONS: tuple[tuple[str, ...], ...] = (
    LISTS,
    BUILT_CARTS,
    USAGE,
    DECISIONS,
    WHO_WAS_TOLD,
    WHO_REPORTED,
    COUNTED,
    FORMS_TAKEN,
    CARDS,
    MESSAGES,
    SERIALS,
    DECISIONS_KEPT,
    FIXED_CELLS,
    MARK_OF_SITE,
)
