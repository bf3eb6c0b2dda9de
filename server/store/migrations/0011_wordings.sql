-- +goose Up

-- A question may be changed later. So an answer keeps the misconceptions behind it as it
-- was marked then, as a JSON list; null for one from before they were kept.
alter table answers add column beliefs text;

-- And whose wording was answered: empty for the course's own, else a material and its
-- version.
alter table answers add column wording text not null default '';
alter table attempts add column wording text not null default '';

-- Something was deleted, and the file is not rebuilt yet: the text is out of sight and may
-- still be in it.
create table unwiped (
    at text not null
) strict;
