-- A store as the first version of the schema kept it: four publications.
CREATE TABLE publication (
	number    integer primary key,
	time      integer not null, -- Unix seconds
	added     integer not null,
	changed   integer not null,
	returned  integer not null,
	withdrawn integer not null,
	moved     integer not null,
	unchanged integer not null
);
CREATE TABLE thing (
	path     text primary key,
	iri      text not null,
	seq      integer not null,
	state    integer not null, -- service.State
	class    text not null,
	endpoint text not null,
	label    text not null,
	digest   blob not null
) without rowid;
CREATE INDEX thing_by_endpoint on thing (endpoint, path) where state = 1;
CREATE TABLE version (
	seq         integer primary key,
	prev        integer not null, -- seq of the version before; 0 for the first
	path        text not null,
	publication integer not null,
	state       integer not null,
	class       text not null,
	endpoint    text not null,
	label       text not null,
	digest      blob not null,
	keys        text not null,
	sets        text not null, -- one a line
	moved_to    text not null,
	reason      text not null,
	body        blob not null  -- zstd
);
CREATE TABLE tally (
	endpoint text primary key,
	live     integer not null
) without rowid;
insert into publication values (1, 1935817689, 5, 0, 0, 0, 0, 0);
insert into publication values (2, 1935904089, 0, 2, 0, 1, 0, 2);
insert into publication values (3, 1935990489, 0, 1, 1, 1, 1, 2);
insert into publication values (4, 1936076889, 0, 0, 0, 0, 1, 3);
insert into thing values ('object/0', 'https://museum.example/coll/object/0', 12, 3, '', '', '', x'a4d98d6d4022a53ce670ac35dca0924a');
insert into thing values ('object/1', 'https://museum.example/coll/object/1', 6, 1, 'HumanMadeObject', 'object', 'Label of object/1', x'c60b2c1fb205e347429eba02f62e6fc6');
insert into thing values ('object/2', 'https://museum.example/coll/object/2', 9, 1, 'HumanMadeObject', 'object', 'Label of object/2', x'2391e11870827c612fc2428e355d74d6');
insert into thing values ('object/3', 'https://museum.example/coll/object/3', 11, 2, 'HumanMadeObject', 'object', 'Label of object/3', x'e8c0de089a5d7a88c4920e7ff364355e');
insert into thing values ('object/4', 'https://museum.example/coll/object/4', 10, 1, 'HumanMadeObject', 'object', 'Label of object/4', x'6fe1ecff9d3838824d82f424e589ebb4');
insert into thing values ('place/1', 'https://museum.example/coll/place/1', 13, 3, 'HumanMadeObject', 'place', 'Label of place/1', x'2a6cdb3075f0e862667ad87df23ea072');
insert into version values (1, 0, 'object/1', 1, 1, 'HumanMadeObject', 'object', 'Label of object/1', x'27608b50eeeb284b16590708085475a8', '', 'maps'||char(10)||'maps:charts:sea', '', '', x'28b52ffd0400c101007b226964223a2268747470733a2f2f6d757365756d2e6578616d706c652f636f6c6c2f6f626a6563742f31222c226e6f7465223a2261227d1d651df3');
insert into version values (2, 0, 'object/2', 1, 1, 'HumanMadeObject', 'object', 'Label of object/2', x'2391e11870827c612fc2428e355d74d6', '', 'globes', '', '', x'28b52ffd0400c101007b226964223a2268747470733a2f2f6d757365756d2e6578616d706c652f636f6c6c2f6f626a6563742f32222c226e6f7465223a2262227d555303ec');
insert into version values (3, 0, 'object/3', 1, 1, 'HumanMadeObject', 'object', 'Label of object/3', x'ef8ad02b121297eaebb0cca9cb91ea4a', '', '', '', '', x'28b52ffd0400c101007b226964223a2268747470733a2f2f6d757365756d2e6578616d706c652f636f6c6c2f6f626a6563742f33222c226e6f7465223a2263227dc26f61d2');
insert into version values (4, 0, 'place/1', 1, 1, 'HumanMadeObject', 'place', 'Label of place/1', x'309ef8ea062e580c5575fde05428d46e', '', 'places', '', '', x'28b52ffd0400b901007b226964223a2268747470733a2f2f6d757365756d2e6578616d706c652f636f6c6c2f706c6163652f31222c226e6f7465223a2264227d04157a44');
insert into version values (5, 0, 'object/4', 1, 1, 'HumanMadeObject', 'object', 'Label of object/4', x'3625df095eb9e53d8ea1605e6e1bb19e', '', 'maps', '', '', x'28b52ffd0400c101007b226964223a2268747470733a2f2f6d757365756d2e6578616d706c652f636f6c6c2f6f626a6563742f34222c226e6f7465223a2265227d5eb7bdbf');
insert into version values (6, 1, 'object/1', 2, 1, 'HumanMadeObject', 'object', 'Label of object/1', x'c60b2c1fb205e347429eba02f62e6fc6', '', 'maps:charts', '', '', x'28b52ffd0400c101007b226964223a2268747470733a2f2f6d757365756d2e6578616d706c652f636f6c6c2f6f626a6563742f31222c226e6f7465223a2241227d3b6091b0');
insert into version values (7, 5, 'object/4', 2, 1, 'HumanMadeObject', 'object', 'Label of object/4', x'6e68af31f6b77d8db254aa552e0b3616', '', '', '', '', x'28b52ffd0400c101007b226964223a2268747470733a2f2f6d757365756d2e6578616d706c652f636f6c6c2f6f626a6563742f34222c226e6f7465223a2265227d5eb7bdbf');
insert into version values (8, 2, 'object/2', 2, 2, 'HumanMadeObject', 'object', 'Label of object/2', x'6b43ae7571570e2d81e690c9a5473325', '', 'globes', '', '', x'');
insert into version values (9, 8, 'object/2', 3, 1, 'HumanMadeObject', 'object', 'Label of object/2', x'2391e11870827c612fc2428e355d74d6', '', 'globes', '', '', x'28b52ffd0400c101007b226964223a2268747470733a2f2f6d757365756d2e6578616d706c652f636f6c6c2f6f626a6563742f32222c226e6f7465223a2262227d555303ec');
insert into version values (10, 7, 'object/4', 3, 1, 'HumanMadeObject', 'object', 'Label of object/4', x'6fe1ecff9d3838824d82f424e589ebb4', '', 'maps', '', '', x'28b52ffd0400c901007b226964223a2268747470733a2f2f6d757365756d2e6578616d706c652f636f6c6c2f6f626a6563742f34222c226e6f7465223a226534227defccae7c');
insert into version values (11, 3, 'object/3', 3, 2, 'HumanMadeObject', 'object', 'Label of object/3', x'e8c0de089a5d7a88c4920e7ff364355e', '', '', '', 'entered twice', x'');
insert into version values (12, 0, 'object/0', 3, 3, '', '', '', x'a4d98d6d4022a53ce670ac35dca0924a', '', '', 'https://museum.example/coll/object/1', '', x'');
insert into version values (13, 4, 'place/1', 4, 3, 'HumanMadeObject', 'place', 'Label of place/1', x'2a6cdb3075f0e862667ad87df23ea072', '', 'places', 'https://museum.example/coll/object/1', '', x'');
insert into tally values ('object', 3);
pragma application_id = 1383034981;
pragma user_version = 1;
