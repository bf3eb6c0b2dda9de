-- +goose Up

-- What kind of scenario it was, which case of it, by which rules and table it was
-- judged, and what was said then.
alter table attempts add column kind text not null default ''; -- empty: a plan, from before there were others
alter table attempts add column seed integer not null default 0;
alter table attempts add column version text not null default '';
alter table attempts add column result blob not null default x'';
