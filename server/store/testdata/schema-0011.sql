pragma application_id = 1380082542;
CREATE TABLE goose_db_version (
		id INTEGER PRIMARY KEY AUTOINCREMENT,
		version_id INTEGER NOT NULL,
		is_applied INTEGER NOT NULL,
		tstamp TIMESTAMP DEFAULT (datetime('now'))
	);
CREATE TABLE visitors (
    id          text primary key check (id <> ''),
    altitude_ft real
, canning_day text not null default '', time_zone text not null default '') strict;
CREATE TABLE answers (
    id       integer primary key,
    visitor  text not null references visitors (id) on delete cascade,
    question text not null check (question <> ''),
    lesson   text not null,
    given    text not null, -- JSON array of strings, in the order given
    correct  integer not null check (correct in (0, 1)),
    at       text not null
, seed integer not null default 0, sitting text not null default '', beliefs text, wording text not null default '') strict;
CREATE INDEX answers_by_visitor on answers (visitor, at);
CREATE TABLE plans (
    id      text primary key check (id <> ''),
    visitor text not null references visitors (id) on delete cascade,
    title   text not null,
    plan    blob not null, -- the plan file, byte for byte
    report  blob not null, -- the report, byte for byte, as given on that day
    verdict text not null,
    at      text not null
) strict;
CREATE INDEX plans_by_visitor on plans (visitor, at);
CREATE TABLE attempts (
    id       text primary key check (id <> ''),
    visitor  text not null references visitors (id) on delete cascade,
    scenario text not null check (scenario <> ''),
    plan     blob not null,
    report   blob not null,
    verdict  text not null,
    passed   integer not null check (passed in (0, 1)),
    at       text not null
, kind text not null default '', seed integer not null default 0, version text not null default '', result blob not null default x'', wording text not null default '') strict;
CREATE INDEX attempts_by_visitor on attempts (visitor, at);
CREATE TABLE sessions (
    token   text primary key,
    data    blob not null,
    expires text not null
) strict;
CREATE INDEX sessions_by_expiry on sessions (expires);
CREATE TABLE sittings (
    id        text primary key check (id <> ''),
    visitor   text not null references visitors (id) on delete cascade,
    title     text not null,
    questions text not null, -- JSON array of {"question", "seed"}, in the order asked
    begun     text not null,
    submitted text -- null until it is handed in
) strict;
CREATE INDEX sittings_by_visitor on sittings (visitor, begun);
CREATE TABLE sitting_answers (
    sitting text not null references sittings (id) on delete cascade,
    place   integer not null check (place >= 0), -- of the question, from 0
    given   text not null, -- JSON array of strings
    at      text not null,
    primary key (sitting, place)
) strict;
CREATE TABLE people (
    visitor  text primary key references visitors (id) on delete cascade,
    role     text not null check (role in ('instructor', 'student')),
    name     text not null check (name <> ''), -- as it was typed
    known_as text not null unique,             -- as it is compared: folded, spaces joined
    password text not null,                    -- argon2id, with its salt and settings
    sessions integer not null default 1,       -- counts up to end all sessions
    joined   text not null
) strict;
CREATE TABLE once_codes (
    hash    text primary key,
    person  text references people (visitor) on delete cascade, -- null: makes an instructor
    expires text not null
) strict;
CREATE TABLE classes (
    id           text primary key check (id <> ''),
    instructor   text not null references people (visitor) on delete restrict,
    name         text not null check (name <> ''),
    starts       text not null, -- day, as 2026-08-20
    zone         text not null, -- name of a time zone
    altitude_ft  real not null,
    canning_day  text not null default '',
    weeks        integer not null check (weeks between 1 and 52),
    code         text not null unique, -- with which students join
    code_expires text not null,
    code_open    integer not null check (code_open in (0, 1)),
    made         text not null
) strict;
CREATE INDEX classes_by_instructor on classes (instructor);
CREATE TABLE members (
    class  text not null references classes (id) on delete cascade,
    person text not null references people (visitor) on delete cascade,
    joined text not null,
    primary key (class, person)
) strict;
CREATE INDEX members_by_person on members (person);
CREATE TABLE feeds (
    secret text primary key,
    class  text not null references classes (id) on delete cascade,
    person text not null references people (visitor) on delete cascade,
    unique (class, person)
) strict;
CREATE TABLE assignments (
    id       text primary key check (id <> ''),
    class    text not null references classes (id) on delete cascade,
    kind     text not null check (kind in ('lesson', 'questions', 'scenario', 'batch')),
    about    text not null, -- the lesson's or scenario's slug, the food of a batch
    title    text not null,
    note     text not null default '', -- what the instructor says about it
    settings text not null default '{}', -- JSON: the limits of a batch
    opens    text not null,
    due      text not null,
    everyone integer not null check (everyone in (0, 1)),
    made     text not null
) strict;
CREATE INDEX assignments_by_class on assignments (class, due);
CREATE TABLE assigned (
    assignment text not null references assignments (id) on delete cascade,
    person     text not null references people (visitor) on delete cascade,
    primary key (assignment, person)
) strict;
CREATE TABLE batches (
    id         text primary key check (id <> ''),
    visitor    text not null references visitors (id) on delete cascade,
    assignment text not null references assignments (id) on delete restrict, -- work is never lost by taking back
    made       text not null,
    unique (visitor, assignment)
) strict;
CREATE TABLE batch_versions (
    batch   text not null references batches (id) on delete cascade,
    n       integer not null check (n > 0), -- counts up over both kinds
    kind    text not null check (kind in ('plan', 'record')),
    file    blob not null, -- the plan or batch file, byte for byte
    report  blob not null, -- JSON, byte for byte, as given on that day
    verdict text not null,
    lot     text not null default '', -- of the lids, in the student's own words
    version text not null, -- of the rules and the table it was judged by
    at      text not null,
    primary key (batch, n)
) strict;
CREATE TABLE batch_events (
    id    integer primary key,
    batch text not null references batches (id) on delete cascade,
    what  text not null check (what in ('plan-sent', 'plan-back', 'plan-fine', 'record-sent', 'record-back', 'accepted', 'comment')),
    n     integer not null, -- the version it is about
    by_instructor integer not null check (by_instructor in (0, 1)),
    says  text not null,
    at    text not null
) strict;
CREATE INDEX batch_events_by_batch on batch_events (batch, id);
CREATE TABLE batch_times (
    batch    text not null references batches (id) on delete cascade,
    id       text not null check (id <> ''),
    what     text not null,
    at       text not null, -- with the telephone's own offset
    received text not null,
    primary key (batch, id)
) strict;
CREATE TABLE batch_photos (
    id     text primary key check (id <> ''),
    batch  text not null references batches (id) on delete cascade,
    jar    integer not null check (jar >= 0), -- 0: the whole batch
    sum    text not null,
    width  integer not null,
    height integer not null,
    small  blob not null,
    big    blob not null,
    at     text not null,
    unique (batch, jar, sum)
) strict;
CREATE TABLE asked (
    id     text primary key check (id <> ''),
    class  text not null references classes (id) on delete cascade,
    person text not null references people (visitor) on delete cascade,
    kind   text not null check (kind in ('lesson', 'scenario', 'batch')),
    about  text not null check (about <> ''), -- the slug of the lesson or scenario, the id of the batch
    seed   integer not null default 0,        -- which case of the scenario
    text   text not null check (text <> ''),
    at     text not null,
    seen   integer not null default 0         -- the version of the answer that the student has seen
) strict;
CREATE INDEX asked_by_class on asked (class);
CREATE INDEX asked_by_person on asked (person, kind, about);
CREATE TABLE asked_answers (
    asked   text not null references asked (id) on delete cascade,
    version integer not null check (version >= 1),
    text    text not null check (text <> ''),
    at      text not null,
    primary key (asked, version)
) strict;
CREATE TABLE asked_shared (
    id     text primary key, -- of the question, which may be gone
    class  text not null references classes (id) on delete cascade,
    kind   text not null check (kind in ('lesson', 'scenario', 'batch')),
    about  text not null, -- empty for a batch: it would tell whose it is
    text   text not null check (text <> ''),
    answer text not null check (answer <> ''),
    at     text not null
) strict;
CREATE INDEX asked_shared_by_class on asked_shared (class, kind, about);
CREATE TABLE together (
    class text primary key references classes (id) on delete cascade,
    shown integer not null check (shown in (0, 1)),
    page  text not null default '', -- JSON, counts alone; empty while there is too little
    made  text not null default ''  -- the time up to which answers are in it; empty before
) strict;
CREATE TABLE trials (
    id       text primary key check (id <> ''),
    class    text not null references classes (id) on delete cascade,
    question text not null check (question <> ''),
    made     text not null
) strict;
CREATE INDEX trials_by_class on trials (class, made);
CREATE TABLE trial_variants (
    trial   text not null references trials (id) on delete cascade,
    n       integer not null check (n > 0),
    name    text not null check (name <> ''),
    plan    blob not null, -- the plan file
    lids    text not null, -- kind or lot, in the instructor's own words
    verdict text not null, -- on the day it was made
    version text not null, -- of the rules and the table it was judged by then
    made    text not null,
    primary key (trial, n)
) strict;
CREATE TABLE trial_entries (
    trial    text not null references trials (id) on delete cascade,
    n        integer not null check (n > 0),
    form     text not null check (form <> ''), -- of the form it was sent with, so that one sent twice is kept once
    variant  integer not null,
    kind     text not null check (kind in ('typed', 'linked', 'void')),
    replaces integer,                                        -- the entry that it corrects
    batch    text references batches (id) on delete set null, -- of a linked one; null once its student deleted it
    load     text not null,                                  -- JSON: what was seen, of a typed one
    why      text not null,                                  -- what was amiss with the one it replaces
    at       text not null,
    primary key (trial, n),
    unique (trial, form),
    unique (trial, replaces), -- one is replaced once; what comes after replaces its successor
    foreign key (trial, variant) references trial_variants (trial, n),
    foreign key (trial, replaces) references trial_entries (trial, n)
) strict;
CREATE INDEX trial_entries_by_batch on trial_entries (batch);
CREATE TABLE trial_events (
    id      integer primary key,
    trial   text not null references trials (id) on delete cascade,
    what    text not null check (what in ('shown', 'hidden', 'set-aside')),
    variant integer not null, -- 0 for the whole trial
    says    text not null,
    at      text not null
) strict;
CREATE INDEX trial_events_by_trial on trial_events (trial, id);
CREATE TABLE materials (
    id    text primary key check (id <> ''),
    class text not null references classes (id) on delete cascade,
    kind  text not null check (kind in ('lesson', 'question', 'scenario')),
    name  text not null check (name <> ''),
    made  text not null,
    unique (class, kind, name)
) strict;
CREATE TABLE material_versions (
    material text not null references materials (id) on delete cascade,
    n        integer not null check (n > 0),
    title    text not null, -- as far as it could be read
    source   text not null, -- what was written, letter by letter
    made     text not null,
    primary key (material, n)
) strict;
CREATE TABLE material_events (
    id       integer primary key,
    material text not null references materials (id) on delete cascade,
    n        integer not null check (n >= 0), -- the version, 0: taken back
    at       text not null
) strict;
CREATE INDEX material_events_by_material on material_events (material, id);
CREATE TABLE unwiped (
    at text not null
) strict;
insert into goose_db_version (id, version_id, is_applied, tstamp) values (1, 0, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (2, 1, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (3, 2, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (4, 3, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (5, 4, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (6, 5, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (7, 6, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (8, 7, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (9, 8, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (10, 9, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (11, 10, 1, '2026-11-30 15:45:30');
insert into goose_db_version (id, version_id, is_applied, tstamp) values (12, 11, 1, '2026-11-30 15:45:31');
insert into visitors (id, altitude_ft, canning_day, time_zone) values ('ada', 6240.0, '', '');
insert into answers (id, visitor, question, lesson, given, correct, at, seed, sitting, beliefs, wording) values (1, 'ada', 'altitude-why', 'altitude', '["lower-boiling"]', 1, '2026-08-20T12:00:00.123456700Z', 0, '', NULL, '');
insert into answers (id, visitor, question, lesson, given, correct, at, seed, sitting, beliefs, wording) values (2, 'ada', 'headspace-pick', '', '["½ in","","it''s \"full\""]', 0, '2026-08-20T12:00:00.123456701Z', 0, '', NULL, '');
insert into plans (id, visitor, title, plan, report, verdict, at) values ('ada-plan', 'ada', 'Thursday''s sauce', X'666F6F643A20746F6D61746F2D73617563650D0A', X'7B2276657264696374223A22696E636F6D706C657465227D', 'incomplete', '2026-08-20T12:00:00.123456700Z');
insert into attempts (id, visitor, scenario, plan, report, verdict, passed, at, kind, seed, version, result, wording) values ('ada-late', 'ada', 'grange-supper', X'00FF', X'7B7D0A', 'as-tested', 1, '2026-08-20T13:00:00.123456700Z', '', 0, '', X'', '');
insert into attempts (id, visitor, scenario, plan, report, verdict, passed, at, kind, seed, version, result, wording) values ('ada-early', 'ada', 'grange-supper', X'7061636B3A20726177', X'7B7D', 'unsafe', 0, '2026-08-20T12:00:00.123456700Z', '', 0, '', X'', '');
