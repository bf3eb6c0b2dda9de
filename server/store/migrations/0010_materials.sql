-- +goose Up

-- Lessons, questions and scenarios that an instructor writes for a class. Each has a name,
-- by which the course knows it: one that the course has already is read in its place.
create table materials (
    id    text primary key check (id <> ''),
    class text not null references classes (id) on delete cascade,
    kind  text not null check (kind in ('lesson', 'question', 'scenario')),
    name  text not null check (name <> ''),
    made  text not null,
    unique (class, kind, name)
) strict;

-- Every version that was kept, also one that the checks find fault with.
create table material_versions (
    material text not null references materials (id) on delete cascade,
    n        integer not null check (n > 0),
    title    text not null, -- as far as it could be read
    source   text not null, -- what was written, letter by letter
    made     text not null,
    primary key (material, n)
) strict;

-- What the class reads: a version that was published, or nothing after it was taken back.
create table material_events (
    id       integer primary key,
    material text not null references materials (id) on delete cascade,
    n        integer not null check (n >= 0), -- the version, 0: taken back
    at       text not null
) strict;

create index material_events_by_material on material_events (material, id);
