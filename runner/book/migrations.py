"""The shared book's database, version by version; each step is one transaction.

A bay writes its own rows and reads nobody else's (row-level security by the name it logs in with).
Copies are only ever added: no role may change or take away a line, and a line that does not follow
the one before it is refused by the server itself. The office reads counts; the auditor reads
copies, and no registration. The README beside this says it in words, with what TLS needs.
"""

from typing import Final

from ..jobs.questions import BEGUN, CELLS, NEXT_VISIT, SCHEMA, Cell

ROLES: Final = ("steplatch_bay", "steplatch_office", "steplatch_auditor")

_ROLES: Final = "".join(
    f"""
DO $$ BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = '{role}') THEN
        CREATE ROLE {role} NOLOGIN;
    END IF;
END $$;
GRANT USAGE ON SCHEMA steplatch TO {role};
"""
    for role in ROLES
)

COPIES: Final = f"""
CREATE SCHEMA steplatch;
SET LOCAL search_path = steplatch, pg_temp;
REVOKE ALL ON SCHEMA steplatch FROM PUBLIC;
{_ROLES}
CREATE TABLE book_version (
    version INTEGER PRIMARY KEY, applied TIMESTAMPTZ NOT NULL DEFAULT now());
CREATE TABLE copy_job (
    bay TEXT COLLATE "C" NOT NULL, job TEXT COLLATE "C" NOT NULL, lines INTEGER NOT NULL,
    head TEXT NOT NULL, stamp TEXT NOT NULL DEFAULT '', PRIMARY KEY (bay, job));
CREATE TABLE copy_line (
    bay TEXT COLLATE "C" NOT NULL, job TEXT COLLATE "C" NOT NULL, seq INTEGER NOT NULL,
    sha256 TEXT NOT NULL, raw BYTEA NOT NULL, PRIMARY KEY (bay, job, seq));
CREATE TABLE copy_file (
    bay TEXT COLLATE "C" NOT NULL, job TEXT COLLATE "C" NOT NULL, path TEXT COLLATE "C" NOT NULL,
    sha256 TEXT NOT NULL, content BYTEA NOT NULL, sent TIMESTAMPTZ NOT NULL DEFAULT now(),
    PRIMARY KEY (bay, job, path, sha256),
    CHECK (sha256 = encode(sha256(content), 'hex')));

CREATE FUNCTION copy_line_follows() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = steplatch, pg_temp AS $$
DECLARE stands copy_job%ROWTYPE; start BYTEA;
BEGIN
    INSERT INTO copy_job (bay, job, lines, head) VALUES (NEW.bay, NEW.job, 0, repeat('0', 64))
        ON CONFLICT DO NOTHING;
    SELECT * INTO stands FROM copy_job WHERE bay = NEW.bay AND job = NEW.job FOR UPDATE;
    start := convert_to('{{"prev":"' || stands.head || '"', 'UTF8');
    IF NEW.seq <> stands.lines + 1 OR NEW.sha256 <> encode(sha256(NEW.raw), 'hex')
        OR substring(NEW.raw FROM 1 FOR length(start)) <> start THEN
        RAISE EXCEPTION 'line % does not follow line % of %', NEW.seq, stands.lines, NEW.job
            USING ERRCODE = 'check_violation';
    END IF;
    UPDATE copy_job SET lines = NEW.seq, head = NEW.sha256, stamp = ''
        WHERE bay = NEW.bay AND job = NEW.job;
    RETURN NEW;
END $$;
CREATE TRIGGER follows BEFORE INSERT ON copy_line
    FOR EACH ROW EXECUTE FUNCTION copy_line_follows();

ALTER TABLE copy_job ENABLE ROW LEVEL SECURITY;
ALTER TABLE copy_line ENABLE ROW LEVEL SECURITY;
ALTER TABLE copy_file ENABLE ROW LEVEL SECURITY;
CREATE POLICY own ON copy_job TO steplatch_bay USING (bay = current_user);
CREATE POLICY own ON copy_line TO steplatch_bay USING (bay = current_user);
CREATE POLICY own ON copy_file TO steplatch_bay USING (bay = current_user);
CREATE POLICY every ON copy_job FOR SELECT TO steplatch_office, steplatch_auditor USING (true);
CREATE POLICY every ON copy_line FOR SELECT TO steplatch_auditor USING (true);
CREATE POLICY every ON copy_file FOR SELECT TO steplatch_auditor USING (true);
GRANT SELECT ON book_version TO steplatch_bay, steplatch_office, steplatch_auditor;
GRANT SELECT, INSERT ON copy_line, copy_file TO steplatch_bay;
GRANT SELECT, UPDATE (stamp) ON copy_job TO steplatch_bay;
GRANT SELECT ON copy_job TO steplatch_office, steplatch_auditor;
GRANT SELECT ON copy_line, copy_file TO steplatch_auditor;
"""

_FIRST_NEXT: Final = """UPDATE job_fact SET back_days = (
    SELECT n.day - job_fact.day FROM job_fact n
    WHERE n.car = job_fact.car AND n.kind = job_fact.kind
    AND (n.day > job_fact.day OR (n.day = job_fact.day AND n.id > job_fact.id))
    ORDER BY n.day, n.id LIMIT 1)
WHERE car = wanted AND car <> ''"""
_WITHOUT_CAR: Final = (
    "id, kind, state, day, month, procedure, triage, verdict, gain_tenths, km, duty, "
    "fluid_tenths, back_days, bay"
)


def _tally(table: str, cells: tuple[Cell, ...]) -> str:
    """What keeps the tally of a table in PostgreSQL. Cells are counted bay by bay, so that bays do
    not wait for each other's rows."""
    gone = "\n".join(f"        {one.added('OLD', '-')};" for one in cells)
    come = "\n".join(f"        {one.added('NEW')};" for one in cells)
    return f"""
CREATE FUNCTION tally_{table}() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = steplatch, pg_temp AS $$
BEGIN
    IF TG_OP <> 'INSERT' THEN
{gone}
    END IF;
    IF TG_OP <> 'DELETE' THEN
{come}
    END IF;
    RETURN NULL;
END $$;
CREATE TRIGGER tally AFTER INSERT OR UPDATE OR DELETE ON {table}
    FOR EACH ROW EXECUTE FUNCTION tally_{table}();
"""


_TALLY: Final = "".join(_tally(table, cells) for table, cells in CELLS)
DERIVED: Final = f"""
SET LOCAL search_path = steplatch, pg_temp;
{SCHEMA}
ALTER TABLE job_fact ALTER COLUMN bay SET DEFAULT current_user;
ALTER TABLE stumble ALTER COLUMN bay SET DEFAULT current_user;
{_TALLY}
CREATE FUNCTION next_visit(wanted TEXT) RETURNS void LANGUAGE sql SECURITY DEFINER
SET search_path = steplatch, pg_temp AS $$
{_FIRST_NEXT};
$$;
REVOKE ALL ON FUNCTION next_visit(TEXT) FROM PUBLIC;
GRANT EXECUTE ON FUNCTION next_visit(TEXT) TO steplatch_bay;
ALTER TABLE job_fact ENABLE ROW LEVEL SECURITY;
ALTER TABLE stumble ENABLE ROW LEVEL SECURITY;
CREATE POLICY own ON job_fact TO steplatch_bay USING (bay = current_user);
CREATE POLICY own ON stumble TO steplatch_bay USING (bay = current_user);
CREATE POLICY every ON job_fact FOR SELECT TO steplatch_office, steplatch_auditor USING (true);
CREATE POLICY every ON stumble FOR SELECT TO steplatch_office, steplatch_auditor USING (true);
GRANT SELECT, INSERT, DELETE ON job_fact, stumble TO steplatch_bay;
GRANT SELECT ON job_fact, stumble TO steplatch_office;
GRANT SELECT ({_WITHOUT_CAR}) ON job_fact TO steplatch_auditor;
GRANT SELECT ON stumble TO steplatch_auditor;
GRANT SELECT ON tally TO steplatch_office, steplatch_auditor;
"""

FINDINGS: Final = """
SET LOCAL search_path = steplatch, pg_temp;
CREATE TABLE finding (
    bay TEXT COLLATE "C" NOT NULL, job TEXT COLLATE "C" NOT NULL, what TEXT COLLATE "C" NOT NULL,
    detail TEXT NOT NULL, found TIMESTAMPTZ NOT NULL DEFAULT now(),
    PRIMARY KEY (bay, job, what, detail));
CREATE INDEX copy_job_of ON copy_job (job, bay);
CREATE FUNCTION copy_doubled() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = steplatch, pg_temp AS $$
BEGIN
    INSERT INTO finding (bay, job, what, detail)
        SELECT NEW.bay, NEW.job, 'doubled', CASE WHEN o.sha256 = NEW.sha256
            THEN 'the same job was sent by ' ELSE 'another job of this id was sent by ' END || o.bay
        FROM copy_line o WHERE o.job = NEW.job AND o.seq = 1 AND o.bay <> NEW.bay
        ON CONFLICT DO NOTHING;
    RETURN NEW;
END $$;
CREATE TRIGGER doubled AFTER INSERT ON copy_line
    FOR EACH ROW WHEN (NEW.seq = 1) EXECUTE FUNCTION copy_doubled();
CREATE FUNCTION fact_counted_once() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = steplatch, pg_temp AS $$
BEGIN
    IF EXISTS (SELECT FROM copy_line mine JOIN copy_line o USING (job, seq, sha256)
        WHERE mine.bay = NEW.bay AND mine.seq = 1 AND NEW.id = mine.bay || '/' || mine.job
        AND o.bay <> NEW.bay
        AND EXISTS (SELECT FROM job_fact f
            WHERE f.id = o.bay || '/' || o.job AND f.kind <> 'doubled')) THEN
        NEW.kind := 'doubled';
    END IF;
    RETURN NEW;
END $$;
CREATE TRIGGER counted_once BEFORE INSERT ON job_fact
    FOR EACH ROW EXECUTE FUNCTION fact_counted_once();
CREATE FUNCTION stumble_counted_once() RETURNS trigger LANGUAGE plpgsql SECURITY DEFINER
SET search_path = steplatch, pg_temp AS $$
BEGIN
    NEW.kind := (SELECT kind FROM job_fact WHERE id = NEW.id);
    RETURN NEW;
END $$;
CREATE TRIGGER counted_once BEFORE INSERT ON stumble
    FOR EACH ROW EXECUTE FUNCTION stumble_counted_once();
ALTER TABLE finding ENABLE ROW LEVEL SECURITY;
CREATE POLICY own ON finding TO steplatch_bay USING (bay = current_user);
CREATE POLICY every ON finding FOR SELECT TO steplatch_office, steplatch_auditor USING (true);
GRANT SELECT, INSERT ON finding TO steplatch_bay;
GRANT SELECT ON finding TO steplatch_office, steplatch_auditor;
"""

ACKNOWLEDGED: Final = """
SET LOCAL search_path = steplatch, pg_temp;
CREATE TABLE acknowledged (
    bay TEXT COLLATE "C" NOT NULL, job TEXT COLLATE "C" NOT NULL, what TEXT COLLATE "C" NOT NULL,
    detail TEXT NOT NULL, by_whom TEXT NOT NULL CHECK (by_whom <> ''),
    why TEXT NOT NULL CHECK (why <> ''), said TIMESTAMPTZ NOT NULL DEFAULT now(),
    PRIMARY KEY (bay, job, what, detail),
    FOREIGN KEY (bay, job, what, detail) REFERENCES finding (bay, job, what, detail));
ALTER TABLE acknowledged ENABLE ROW LEVEL SECURITY;
CREATE POLICY own ON acknowledged TO steplatch_bay USING (bay = current_user);
CREATE POLICY every ON acknowledged FOR SELECT TO steplatch_office, steplatch_auditor USING (true);
GRANT SELECT, INSERT ON acknowledged TO steplatch_bay;
GRANT SELECT ON acknowledged TO steplatch_office, steplatch_auditor;
"""

IN_ORDER: Final = f"""
SET LOCAL search_path = steplatch, pg_temp;
{BEGUN};
GRANT SELECT (begun) ON job_fact TO steplatch_auditor;
CREATE OR REPLACE FUNCTION next_visit(wanted TEXT) RETURNS void LANGUAGE sql SECURITY DEFINER
SET search_path = steplatch, pg_temp AS $$
{NEXT_VISIT.strip().replace("?", "wanted")};
$$;
"""

MIGRATIONS: Final = (COPIES, DERIVED, FINDINGS, ACKNOWLEDGED, IN_ORDER)
"""Version 1, 2, ...: never changed once released, only added to."""
VERSION: Final = len(MIGRATIONS)

LOGIN: Final = """
DO $$ BEGIN
    IF NOT EXISTS (SELECT FROM pg_roles WHERE rolname = {text}) THEN
        CREATE ROLE {name} LOGIN;
    END IF;
END $$;
GRANT {role} TO {name};
"""
"""A login without a password: set one with \\password in psql, or use certificates."""


def whole_sql() -> str:
    """All of it as a text to be read, and run by hand, in psql."""
    steps = (
        f"BEGIN;{sql}INSERT INTO steplatch.book_version (version) VALUES ({number});\nCOMMIT;\n"
        for number, sql in enumerate(MIGRATIONS, start=1)
    )
    return "\n".join(steps)
