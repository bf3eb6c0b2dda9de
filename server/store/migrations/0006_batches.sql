-- +goose Up

-- A practice batch: what one student does for one assignment. Everything about it is
-- only ever added to, so that what was sent in can always be looked at again.
create table batches (
    id         text primary key check (id <> ''),
    visitor    text not null references visitors (id) on delete cascade,
    assignment text not null references assignments (id) on delete restrict, -- work is never lost by taking back
    made       text not null,
    unique (visitor, assignment)
) strict;

-- Each version of its plan and of its record.
create table batch_versions (
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

-- What was done with it: sent in, sent back, accepted, said.
create table batch_events (
    id    integer primary key,
    batch text not null references batches (id) on delete cascade,
    what  text not null check (what in ('plan-sent', 'plan-back', 'plan-fine', 'record-sent', 'record-back', 'accepted', 'comment')),
    n     integer not null, -- the version it is about
    by_instructor integer not null check (by_instructor in (0, 1)),
    says  text not null,
    at    text not null
) strict;

create index batch_events_by_batch on batch_events (batch, id);

-- Clock times from the kitchen. The telephone names each, so that one sent twice is
-- kept once.
create table batch_times (
    batch    text not null references batches (id) on delete cascade,
    id       text not null check (id <> ''),
    what     text not null,
    at       text not null, -- with the telephone's own offset
    received text not null,
    primary key (batch, id)
) strict;

create table batch_photos (
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
