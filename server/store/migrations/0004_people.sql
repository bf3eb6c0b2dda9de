-- +goose Up

-- A visitor with a name, who can come back from another browser. All work stays
-- with the visitor, so that who joins keeps what was done before.
create table people (
    visitor  text primary key references visitors (id) on delete cascade,
    role     text not null check (role in ('instructor', 'student')),
    name     text not null check (name <> ''), -- as it was typed
    known_as text not null unique,             -- as it is compared: folded, spaces joined
    password text not null,                    -- argon2id, with its salt and settings
    sessions integer not null default 1,       -- counts up to end all sessions
    joined   text not null
) strict;

-- Codes that work once: the link that makes the first instructor, and the code with
-- which a person sets a new password. Only hashes are kept.
create table once_codes (
    hash    text primary key,
    person  text references people (visitor) on delete cascade, -- null: makes an instructor
    expires text not null
) strict;

create table classes (
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

create index classes_by_instructor on classes (instructor);

create table members (
    class  text not null references classes (id) on delete cascade,
    person text not null references people (visitor) on delete cascade,
    joined text not null,
    primary key (class, person)
) strict;

create index members_by_person on members (person);

-- The secret in the address of a calendar: of a class as one person sees it.
create table feeds (
    secret text primary key,
    class  text not null references classes (id) on delete cascade,
    person text not null references people (visitor) on delete cascade,
    unique (class, person)
) strict;

create table assignments (
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

create index assignments_by_class on assignments (class, due);

-- Who an assignment is for when it is not for everyone.
create table assigned (
    assignment text not null references assignments (id) on delete cascade,
    person     text not null references people (visitor) on delete cascade,
    primary key (assignment, person)
) strict;
