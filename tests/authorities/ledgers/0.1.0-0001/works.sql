--
-- PostgreSQL database dump
--


-- Dumped from database version 15.18 (Debian 15.18-0+deb12u1)
-- Dumped by pg_dump version 15.18 (Debian 15.18-0+deb12u1)

SET statement_timeout = 0;
SET lock_timeout = 0;
SET idle_in_transaction_session_timeout = 0;
SET client_encoding = 'UTF8';
SET standard_conforming_strings = on;
SELECT pg_catalog.set_config('search_path', '', false);
SET check_function_bodies = false;
SET xmloption = content;
SET client_min_messages = warning;
SET row_security = off;

SET default_tablespace = '';

SET default_table_access_method = heap;

--
-- Name: alembic_version; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.alembic_version (
    version_num character varying(32) NOT NULL
);


--
-- Name: lines; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.lines (
    seq integer NOT NULL,
    at character varying(40) NOT NULL,
    by character varying(200) NOT NULL,
    station character varying(200) NOT NULL,
    title character varying(200) NOT NULL,
    part character varying(20) NOT NULL,
    kind character varying(40) NOT NULL,
    data text NOT NULL,
    key character varying(200) NOT NULL,
    accepted text NOT NULL,
    clock character varying(40) NOT NULL,
    prev character varying(64) NOT NULL,
    hash character varying(64) NOT NULL
);


--
-- Name: numbers; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.numbers (
    folded character varying(300) NOT NULL,
    what character varying(40) NOT NULL,
    title character varying(200) NOT NULL,
    part character varying(20) NOT NULL,
    shown character varying(300) NOT NULL
);


--
-- Name: parts; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.parts (
    id character varying(20) NOT NULL,
    serial integer NOT NULL,
    title character varying(200) NOT NULL,
    kind character varying(20) NOT NULL,
    state character varying(20) NOT NULL,
    doc text NOT NULL
);


--
-- Name: settings; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.settings (
    name character varying(60) NOT NULL,
    value text NOT NULL
);


--
-- Name: titles; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.titles (
    catalogue character varying(200) NOT NULL,
    name text NOT NULL,
    seq integer NOT NULL,
    open boolean NOT NULL,
    late_at character varying(40) NOT NULL,
    doc text NOT NULL
);


--
-- Data for Name: alembic_version; Type: TABLE DATA; Schema: public; Owner: -
--

INSERT INTO public.alembic_version VALUES ('0001');


--
-- Data for Name: lines; Type: TABLE DATA; Schema: public; Owner: -
--

INSERT INTO public.lines VALUES (1, '2025-03-03T08:00:01.000000+00:00', 'Ida Vik', '', 'VK 1001', '', 'title_taken_in', '{"editions":[{"due":"2031-05-01","format":"12in-33","id":"lp","quantity":500,"sides":["A","B"]}],"name":"Harbour Lights","people":["The Quay Trio"]}', '41292e23753d496782eb65a5825b7ae8', '', '', '0000000000000000000000000000000000000000000000000000000000000000', '093a17f973701fb89f133a36ffffff3be485eb880b442bfb7c4dabc6df5cd1a7');
INSERT INTO public.lines VALUES (2, '2025-03-03T08:00:02.000000+00:00', 'Ida Vik', '', 'VK 1001', '', 'plan_kept', '{"edition":"lp","fingerprint":"5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4","format":"12in-33","programme_sha256":"e842a7063ee6a88dfca2601e9f3a475e17da71486494bba4941a190c0dee0f71","side":"A"}', '37057009f8554e5b87e16bb0756bb819', '', '', '093a17f973701fb89f133a36ffffff3be485eb880b442bfb7c4dabc6df5cd1a7', 'c4b78ead4812dea194bbb1dc1714a1a9f80dd18480acb9339bccac814ce1c366');
INSERT INTO public.lines VALUES (3, '2025-03-03T08:00:03.000000+00:00', 'Ida Vik', '', 'VK 1001', '', 'test_cut_measured', '{"width_um":52.0}', 'be3976fb74f94c87953db099ab5732d9', '', '', 'c4b78ead4812dea194bbb1dc1714a1a9f80dd18480acb9339bccac814ce1c366', '028b4c969d606a372e217d5398b865501e98df52ec9bd6e579fe3ad92cb80550');
INSERT INTO public.lines VALUES (4, '2025-03-03T08:00:04.000000+00:00', 'Ida Vik', '', 'VK 1001', 'LA1-7', 'lacquer_cut', '{"blank_mm":355.6,"edition":"lp","fingerprint":"5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4","heat_a":0.6,"lacquer_batch":"L-77","mark":"VK 1001-A","operator":"Ida Vik","programme_sha256":"e842a7063ee6a88dfca2601e9f3a475e17da71486494bba4941a190c0dee0f71","side":"A","tip":"T-3","tip_hours":4.5}', '1657fbebafd5477cb6ea30534753222b', '', '', '028b4c969d606a372e217d5398b865501e98df52ec9bd6e579fe3ad92cb80550', '1cf6b3dcc7d9d7172e41194cfc1fe1f958fd1079efabecfbf30adab0a40bac9a');
INSERT INTO public.lines VALUES (5, '2025-03-03T08:00:05.000000+00:00', 'Ida Vik', '', 'VK 1001', 'LA1-7', 'checked_under_the_microscope', '{"marks_read":"VK 1001-A","width_um":51.0}', '16325b1e84914a3ab636ef918e04c6b7', '', '', '1cf6b3dcc7d9d7172e41194cfc1fe1f958fd1079efabecfbf30adab0a40bac9a', '135b5aca64fd1229920acd336df9ff35b2aa3016320260edfdf8f325cbcb8690');
INSERT INTO public.lines VALUES (6, '2025-03-03T08:00:06.000000+00:00', 'Ida Vik', '', 'VK 1001', 'LA1-7', 'handed_over', '{"to":"plating"}', '3c4d84ba0333489e95a298e6d19c5f70', '', '', '135b5aca64fd1229920acd336df9ff35b2aa3016320260edfdf8f325cbcb8690', 'a52c535052651819df215e379072c8e6282563c97492065a164a10497e6918fd');
INSERT INTO public.lines VALUES (7, '2025-03-03T08:00:07.000000+00:00', 'Ida Vik', '', 'VK 1001', 'LA1-7', 'silvered', '{}', '008156f9de0244ae86f477ab3e9215b9', '', '', 'a52c535052651819df215e379072c8e6282563c97492065a164a10497e6918fd', '26ee9b89aa06c64ea047e054da0b3624ec54179693cd7caf17f1d678db950ce7');
INSERT INTO public.lines VALUES (8, '2025-03-03T08:00:08.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MA2-9', 'plated', '{"ampere_hours":190.0,"mark":"M1","metal":"nickel","parent":"LA1-7","part_kind":"master","tank":"2"}', '5d916ac8ce24437a87646ab2e31789e5', '', '', '26ee9b89aa06c64ea047e054da0b3624ec54179693cd7caf17f1d678db950ce7', '89785df5ca6a4bb9ea376cfcd9c3706584db4268b7b8af876d9c54cd90cf8351');
INSERT INTO public.lines VALUES (9, '2025-03-03T08:00:09.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MA2-9', 'separated', '{}', 'f3cb943d5bce4d5893f8ee1f8f05d349', '', '', '89785df5ca6a4bb9ea376cfcd9c3706584db4268b7b8af876d9c54cd90cf8351', '040bfe1359715779a75dfefa9866e6b057dc53082f26e347be0d9584e789f836');
INSERT INTO public.lines VALUES (10, '2025-03-03T08:00:10.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MA2-9', 'weighed', '{"mass_g":180.5}', '604410d69fcf410f856d70b7643a38f7', '', '', '040bfe1359715779a75dfefa9866e6b057dc53082f26e347be0d9584e789f836', '42543ef84794f18f9cb14c9af09511b4a854c20dcf6e3f4a811deb1866ce0e3f');
INSERT INTO public.lines VALUES (11, '2025-03-03T08:00:11.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MA2-9', 'passivated', '{}', 'f397750d50f14496a95d01bf883f75ee', '', '', '42543ef84794f18f9cb14c9af09511b4a854c20dcf6e3f4a811deb1866ce0e3f', '1a746e91d4292aa51371c8ed198445aa8f69a5bd89200160c34c8bb15e11dc76');
INSERT INTO public.lines VALUES (12, '2025-03-03T08:00:12.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'plated', '{"ampere_hours":190.0,"metal":"nickel","parent":"MA2-9","part_kind":"mother","tank":"2"}', '81202802143a4e86a3be22f5e4d4cfea', '', '', '1a746e91d4292aa51371c8ed198445aa8f69a5bd89200160c34c8bb15e11dc76', 'a667e1116465cdd1031a6efc7b2c0695b35d8909dd918f241348567784159ccb');
INSERT INTO public.lines VALUES (13, '2025-03-03T08:00:13.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'separated', '{}', '4c55696e6fed46c68a8bc49da7a34df5', '', '', 'a667e1116465cdd1031a6efc7b2c0695b35d8909dd918f241348567784159ccb', 'd261c352ce16d3eff7d5df6ba3b76aade3692d5a98a7ed50223c2b1cfab19635');
INSERT INTO public.lines VALUES (14, '2025-03-03T08:00:14.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'test_played', '{"count":0}', '72c26242809b42d6af201b82ea73cb95', '', '', 'd261c352ce16d3eff7d5df6ba3b76aade3692d5a98a7ed50223c2b1cfab19635', '62bcdb551557c4afb5bad51341340040ef5508fd4754796da4a7956e82687693');
INSERT INTO public.lines VALUES (15, '2025-03-03T08:00:15.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'approved', '{}', 'bd8c93e7de054e33b4f75a6131bbc658', '', '', '62bcdb551557c4afb5bad51341340040ef5508fd4754796da4a7956e82687693', 'b886f2bc1c82386c65e0863188c8775fb2094e8f4f7850a5b5f52307f4bae5c1');
INSERT INTO public.lines VALUES (16, '2025-03-03T08:00:16.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'passivated', '{}', 'e75af174f7d84415b07486bf2c3c43a8', '', '', 'b886f2bc1c82386c65e0863188c8775fb2094e8f4f7850a5b5f52307f4bae5c1', '839b1ca48fa7f2d8cdd4f853aa7d2cbdfa48e544e33a515abf92e67c380578da');
INSERT INTO public.lines VALUES (17, '2025-03-03T08:00:17.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'plated', '{"ampere_hours":190.0,"mark":"S1","metal":"nickel","parent":"MO3-5","part_kind":"stamper","tank":"2"}', 'a5b34af98ca04637bf50e0eef12083fd', '', '', '839b1ca48fa7f2d8cdd4f853aa7d2cbdfa48e544e33a515abf92e67c380578da', '18d6fe69a596e4d71a41a3d526cc04104b21ee67e83a24cd8404b958a8b17e2d');
INSERT INTO public.lines VALUES (18, '2025-03-03T08:00:18.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'separated', '{}', '957c9169a1af4073b7b0b8a3bc58f905', '', '', '18d6fe69a596e4d71a41a3d526cc04104b21ee67e83a24cd8404b958a8b17e2d', '95518a56c04de25a3144d857f8154121bd99ef34dd459248d65ca6ed7b1648a1');
INSERT INTO public.lines VALUES (19, '2025-03-03T08:00:19.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'measured', '{"thickness_um":201.0,"where":"mean"}', 'ba3339e8a8294bdfb0e5908117bf1a4b', '', '', '95518a56c04de25a3144d857f8154121bd99ef34dd459248d65ca6ed7b1648a1', 'b85e96bdbbd7f67f3362bf1468edf3d825e7b2c1e86f29def65c7af1da890a01');
INSERT INTO public.lines VALUES (20, '2025-03-03T08:00:20.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'back_sanded', '{}', '243c844c40fb4f93b41332c7f40a0863', '', '', 'b85e96bdbbd7f67f3362bf1468edf3d825e7b2c1e86f29def65c7af1da890a01', 'cd6388d330c169ea5f86490e8ffa0b7de791252f85bb6367f63a1e65ac27023f');
INSERT INTO public.lines VALUES (21, '2025-03-03T08:00:21.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'centred', '{"run_out_um":20.0}', '5b1a4e99f3f34bd9ba61bebf407887b8', '', '', 'cd6388d330c169ea5f86490e8ffa0b7de791252f85bb6367f63a1e65ac27023f', '116341f55f1160c29541a33a8d1d089c03338a9f73b598e7fbef682edfaeac05');
INSERT INTO public.lines VALUES (22, '2025-03-03T08:00:22.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'trimmed', '{"diameter_mm":330.0}', '396ea6c8fe554ce78f0bb7fb8fe2ae11', '', '', '116341f55f1160c29541a33a8d1d089c03338a9f73b598e7fbef682edfaeac05', '0d2616909fb6ea734ce6f75791cbd47fa25fba84e062fefe5689838de6285b33');
INSERT INTO public.lines VALUES (23, '2025-03-03T08:00:23.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'formed', '{}', '7d1745bedec04a52b01f153ebb5c2691', '', '', '0d2616909fb6ea734ce6f75791cbd47fa25fba84e062fefe5689838de6285b33', '01cfe7913668ef7715a04393bfde1533a7ded175d057974df4bea474d1dd989e');
INSERT INTO public.lines VALUES (24, '2025-03-03T08:00:24.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'passivated', '{}', '589844529eee471c8b0eafb5cc2d4471', '', '', '01cfe7913668ef7715a04393bfde1533a7ded175d057974df4bea474d1dd989e', 'd6127ac2ee50a9db30757dfc2695f006531cc3d7660aff6fc47821d59c316cdc');
INSERT INTO public.lines VALUES (25, '2025-03-03T08:00:25.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'put_to_press', '{"press":"press 4"}', '97010f25aebf43be9d9f99f87e7d5fc5', '', '', 'd6127ac2ee50a9db30757dfc2695f006531cc3d7660aff6fc47821d59c316cdc', '6d9430afc91f58d607e284e835d4d2c5f8399d1b037aeae5ea2de66c66331e91');
INSERT INTO public.lines VALUES (26, '2025-03-03T08:00:26.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'taken_off', '{"count":480}', 'cc51a0928ef04cfebb93254c8ccdff8f', '', '', '6d9430afc91f58d607e284e835d4d2c5f8399d1b037aeae5ea2de66c66331e91', 'e6185d566c4ac07cbd59171607cfa55f24eb41f859a75c28239594080b968a75');
INSERT INTO public.lines VALUES (27, '2025-03-03T08:00:27.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'vaulted', '{"place":"shelf 12"}', 'd23660289abd470fab231d4a6697e736', '', '', 'e6185d566c4ac07cbd59171607cfa55f24eb41f859a75c28239594080b968a75', 'c2d63377711064b1be0f9a1714943cf0d624ef7408d42eb61a0210a3d8415009');
INSERT INTO public.lines VALUES (28, '2025-03-03T08:00:28.000000+00:00', 'Ida Vik', '', 'ŽM 7', '', 'title_taken_in', '{"editions":[{"due":"2031-05-01","format":"12in-33","id":"lp","quantity":500,"sides":["A","B"]}],"name":"Dvořák – 東京 ‘live’","people":["The Quay Trio"]}', '8db96082ea10428982a305d6898307d1', '', '', 'c2d63377711064b1be0f9a1714943cf0d624ef7408d42eb61a0210a3d8415009', '0e5c77f4d90f8d1d89fbd996460f1dbe788ceaea653022e729a0daee88dd8195');
INSERT INTO public.lines VALUES (29, '2025-03-03T08:00:29.000000+00:00', 'Ida Vik', '', 'ŽM 7', '', 'plan_kept', '{"edition":"lp","fingerprint":"ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784","format":"12in-33","programme_sha256":"c0adc0e8c64c5fe7cfb64a5e4277cb113822a1ddc563ff782c8878c6c41c900a","side":"B"}', '2f9bcc5769704ba0b712f21ac9aec18d', '', '', '0e5c77f4d90f8d1d89fbd996460f1dbe788ceaea653022e729a0daee88dd8195', '80dca87a441e3318620e951a0d04d63445f43cb76036ecd5258b756e143e7541');
INSERT INTO public.lines VALUES (30, '2025-03-03T08:00:30.000000+00:00', 'Ida Vik', '', 'ŽM 7', '', 'test_cut_measured', '{"width_um":52.0}', '754e8145736f4d83aeb6f700d54edb51', '', '', '80dca87a441e3318620e951a0d04d63445f43cb76036ecd5258b756e143e7541', '6d698b038d4b7f5301195cd7ed5a754b6f533db70151e0889c1dc72af9878926');
INSERT INTO public.lines VALUES (31, '2025-03-03T08:00:31.000000+00:00', 'Ida Vik', '', 'ŽM 7', 'LA5-8', 'lacquer_cut', '{"blank_mm":355.6,"edition":"lp","fingerprint":"ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784","heat_a":0.6,"lacquer_batch":"L-77","mark":"ŽM 7-B","operator":"Ida Vik","programme_sha256":"c0adc0e8c64c5fe7cfb64a5e4277cb113822a1ddc563ff782c8878c6c41c900a","side":"B","tip":"T-3","tip_hours":4.5}', 'c1b3edf490c64f8babe6da83cddc6460', '', '', '6d698b038d4b7f5301195cd7ed5a754b6f533db70151e0889c1dc72af9878926', '14eaba85bdaeb8663c7865a967484d221f2a0914dbc45bc1c86ba45c12840068');
INSERT INTO public.lines VALUES (32, '2025-03-03T08:00:32.000000+00:00', 'Łucja Wójcik', '', 'VK 1001', 'LA1-7', 'checked_under_the_microscope', '{"marks_read":"?"}', '12df199fb54d4fa980b1aaaed5ad14ab', 'scribed by hand', '', '14eaba85bdaeb8663c7865a967484d221f2a0914dbc45bc1c86ba45c12840068', 'da80aa8d6fcdf03038ba9451bdd70e103b57cfadfd463f3aed6e49d8ee613983');
INSERT INTO public.lines VALUES (33, '2025-03-03T08:00:33.000000+00:00', 'Ola Berg', '', 'VK 1001', 'LA1-7', 'checked_under_the_microscope', '{"marks_read":"VK"}', 'c757137e70de41918223bea53d429982', '', '', 'da80aa8d6fcdf03038ba9451bdd70e103b57cfadfd463f3aed6e49d8ee613983', '0a8827de46491ff48db2fca19dd79ca3c58127ae6754121fe435d137a3ce516c');
INSERT INTO public.lines VALUES (34, '2025-03-03T08:00:34.000000+00:00', 'Ida Vik', '', 'VK 1001', '', 'corrected', '{"instead":{"count":84},"note":"figures swapped","seq":26}', '43af848167f847468303122daba4a208', '', '', '0a8827de46491ff48db2fca19dd79ca3c58127ae6754121fe435d137a3ce516c', 'c05bb346f9ca686e942ade9ecddda2ed23e785d2f10763399cc8f93a0ab21b82');
INSERT INTO public.lines VALUES (35, '2025-03-03T08:00:35.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'corrected', '{"note":"not on the shelf","seq":27}', 'e47791e8b0914255a2616fec6d176308', '', '', 'c05bb346f9ca686e942ade9ecddda2ed23e785d2f10763399cc8f93a0ab21b82', '6f60ce8dd0d4c68a0e9f5fd442a5edfedb52f1733a3cbd2c0f9e3087ba1e9994');
INSERT INTO public.lines VALUES (36, '2025-03-03T08:00:35.000000+00:00', 'Ida Vik', 'bench 2', 'VK 1001', 'ST4-2', 'handed_over', '{"to":"the press"}', 'tap 1', '', '2025-03-03T06:00:36.000000+00:00', '6f60ce8dd0d4c68a0e9f5fd442a5edfedb52f1733a3cbd2c0f9e3087ba1e9994', '305660e52e3fce00b2fbf2094339c16f9783e6e057d89d97f5922691b7b8824d');


--
-- Data for Name: numbers; Type: TABLE DATA; Schema: public; Owner: -
--

INSERT INTO public.numbers VALUES ('vk1001', 'catalogue number', 'VK 1001', '', 'VK 1001');
INSERT INTO public.numbers VALUES ('harbourlights', 'title', 'VK 1001', '', 'Harbour Lights');
INSERT INTO public.numbers VALUES ('5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4', 'plan fingerprint', 'VK 1001', '', '5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4');
INSERT INTO public.numbers VALUES ('la17', 'part', 'VK 1001', 'LA1-7', 'LA1-7');
INSERT INTO public.numbers VALUES ('5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4', 'plan fingerprint', 'VK 1001', 'LA1-7', '5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4');
INSERT INTO public.numbers VALUES ('l77', 'lacquer batch', 'VK 1001', 'LA1-7', 'L-77');
INSERT INTO public.numbers VALUES ('t3', 'cutting tip', 'VK 1001', 'LA1-7', 'T-3');
INSERT INTO public.numbers VALUES ('vk1001a', 'run-out mark', 'VK 1001', 'LA1-7', 'VK 1001-A');
INSERT INTO public.numbers VALUES ('ma29', 'part', 'VK 1001', 'MA2-9', 'MA2-9');
INSERT INTO public.numbers VALUES ('m1', 'run-out mark', 'VK 1001', 'MA2-9', 'M1');
INSERT INTO public.numbers VALUES ('2', 'tank', 'VK 1001', 'MA2-9', '2');
INSERT INTO public.numbers VALUES ('mo35', 'part', 'VK 1001', 'MO3-5', 'MO3-5');
INSERT INTO public.numbers VALUES ('2', 'tank', 'VK 1001', 'MO3-5', '2');
INSERT INTO public.numbers VALUES ('st42', 'part', 'VK 1001', 'ST4-2', 'ST4-2');
INSERT INTO public.numbers VALUES ('s1', 'run-out mark', 'VK 1001', 'ST4-2', 'S1');
INSERT INTO public.numbers VALUES ('2', 'tank', 'VK 1001', 'ST4-2', '2');
INSERT INTO public.numbers VALUES ('press4', 'press', 'VK 1001', 'ST4-2', 'press 4');
INSERT INTO public.numbers VALUES ('shelf12', 'place', 'VK 1001', 'ST4-2', 'shelf 12');
INSERT INTO public.numbers VALUES ('žm7', 'catalogue number', 'ŽM 7', '', 'ŽM 7');
INSERT INTO public.numbers VALUES ('dvořák東京live', 'title', 'ŽM 7', '', 'Dvořák – 東京 ‘live’');
INSERT INTO public.numbers VALUES ('ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784', 'plan fingerprint', 'ŽM 7', '', 'ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784');
INSERT INTO public.numbers VALUES ('la58', 'part', 'ŽM 7', 'LA5-8', 'LA5-8');
INSERT INTO public.numbers VALUES ('ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784', 'plan fingerprint', 'ŽM 7', 'LA5-8', 'ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784');
INSERT INTO public.numbers VALUES ('l77', 'lacquer batch', 'ŽM 7', 'LA5-8', 'L-77');
INSERT INTO public.numbers VALUES ('t3', 'cutting tip', 'ŽM 7', 'LA5-8', 'T-3');
INSERT INTO public.numbers VALUES ('žm7b', 'run-out mark', 'ŽM 7', 'LA5-8', 'ŽM 7-B');


--
-- Data for Name: parts; Type: TABLE DATA; Schema: public; Owner: -
--

INSERT INTO public.parts VALUES ('LA5-8', 5, 'ŽM 7', 'lacquer', 'cut', '{"approved_by":[],"born":31,"born_at":"2025-03-03T08:00:31.000000+00:00","children":[],"done":["lacquer_cut"],"edition":"lp","faults":null,"fingerprint":"ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784","id":"LA5-8","kind":"lacquer","lacquer_batch":"L-77","last":31,"last_at":"2025-03-03T08:00:31.000000+00:00","marks":["ŽM 7-B"],"mass_g":null,"own_mark":"ŽM 7-B","parent":"","passivated":false,"place":"","played":false,"press":"","pressings":0,"programme_sha256":"c0adc0e8c64c5fe7cfb64a5e4277cb113822a1ddc563ff782c8878c6c41c900a","side":"B","state":"cut","thickness_um":null,"tip":"T-3","tip_hours":4.5,"verdict":""}');
INSERT INTO public.parts VALUES ('LA1-7', 1, 'VK 1001', 'lacquer', 'spent', '{"approved_by":[],"born":4,"born_at":"2025-03-03T08:00:04.000000+00:00","children":["MA2-9"],"done":["lacquer_cut","checked_under_the_microscope","handed_over","silvered"],"edition":"lp","faults":null,"fingerprint":"5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4","id":"LA1-7","kind":"lacquer","lacquer_batch":"L-77","last":33,"last_at":"2025-03-03T08:00:33.000000+00:00","marks":["VK 1001-A"],"mass_g":null,"own_mark":"VK 1001-A","parent":"","passivated":false,"place":"plating","played":false,"press":"","pressings":0,"programme_sha256":"e842a7063ee6a88dfca2601e9f3a475e17da71486494bba4941a190c0dee0f71","side":"A","state":"spent","thickness_um":null,"tip":"T-3","tip_hours":4.5,"verdict":""}');
INSERT INTO public.parts VALUES ('MO3-5', 3, 'VK 1001', 'mother', 'approved', '{"approved_by":["Ida Vik"],"born":12,"born_at":"2025-03-03T08:00:12.000000+00:00","children":["ST4-2"],"done":["plated","separated","test_played","approved","passivated"],"edition":"lp","faults":0,"fingerprint":"","id":"MO3-5","kind":"mother","lacquer_batch":"","last":17,"last_at":"2025-03-03T08:00:17.000000+00:00","marks":["VK 1001-A","M1"],"mass_g":null,"own_mark":"","parent":"MA2-9","passivated":false,"place":"","played":true,"press":"","pressings":0,"programme_sha256":"","side":"A","state":"approved","thickness_um":null,"tip":"","tip_hours":null,"verdict":"approved"}');
INSERT INTO public.parts VALUES ('MA2-9', 2, 'VK 1001', 'master', 'separated', '{"approved_by":[],"born":8,"born_at":"2025-03-03T08:00:08.000000+00:00","children":["MO3-5"],"done":["plated","separated","weighed","passivated"],"edition":"lp","faults":null,"fingerprint":"","id":"MA2-9","kind":"master","lacquer_batch":"","last":12,"last_at":"2025-03-03T08:00:12.000000+00:00","marks":["VK 1001-A","M1"],"mass_g":180.5,"own_mark":"M1","parent":"LA1-7","passivated":false,"place":"","played":false,"press":"","pressings":0,"programme_sha256":"","side":"A","state":"separated","thickness_um":null,"tip":"","tip_hours":null,"verdict":""}');
INSERT INTO public.parts VALUES ('ST4-2', 4, 'VK 1001', 'stamper', 'taken_off', '{"approved_by":[],"born":17,"born_at":"2025-03-03T08:00:17.000000+00:00","children":[],"done":["plated","separated","measured","back_sanded","centred","trimmed","formed","passivated","put_to_press","taken_off","handed_over"],"edition":"lp","faults":null,"fingerprint":"","id":"ST4-2","kind":"stamper","lacquer_batch":"","last":36,"last_at":"2025-03-03T08:00:35.000000+00:00","marks":["VK 1001-A","M1","S1"],"mass_g":null,"own_mark":"S1","parent":"MO3-5","passivated":true,"place":"the press","played":false,"press":"press 4","pressings":84,"programme_sha256":"","side":"A","state":"taken_off","thickness_um":201.0,"tip":"","tip_hours":null,"verdict":""}');


--
-- Data for Name: settings; Type: TABLE DATA; Schema: public; Owner: -
--

INSERT INTO public.settings VALUES ('zone', 'Europe/Oslo');


--
-- Data for Name: titles; Type: TABLE DATA; Schema: public; Owner: -
--

INSERT INTO public.titles VALUES ('VK 1001', 'Harbour Lights', 36, true, '2031-05-02T00:00:00.000000+00:00', '{"editions":[{"due":"2031-05-01","format":"12in-33","id":"lp","quantity":500,"sides":["A","B"]}],"file_sha256":"","findings":[{"accepted":"scribed by hand","band":null,"code":"marks","limit":0.0,"part":"LA1-7","radius_mm":null,"remedy":"The run-out of LA1-7 should read “VK 1001-A”: VK 1001-A is not there and “?” does not belong there. Make sure which part this is.","seq":32,"severity":"warn","time_s":null,"turn":null,"unit":"marks","value":1.0},{"band":null,"code":"marks","limit":0.0,"part":"LA1-7","radius_mm":null,"remedy":"The run-out of LA1-7 should read “VK 1001-A”: VK 1001-A is not there and “vk” does not belong there. Make sure which part this is.","seq":33,"severity":"warn","time_s":null,"turn":null,"unit":"marks","value":1.0}],"last_at":"2025-03-03T08:00:35.000000+00:00","limits":{"approvals":1,"cut_to_plate_h":72.0,"mothers_per_master":10,"negatives_per_lacquer":1,"press_life":1000,"stampers_per_mother":10,"tip_life_h":20.0},"name":"Harbour Lights","parts":{},"people":["The Quay Trio"],"plans":[{"edition":"lp","fingerprint":"5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4","format":"12in-33","programme_sha256":"e842a7063ee6a88dfca2601e9f3a475e17da71486494bba4941a190c0dee0f71","seq":2,"side":"A"}],"seq":36,"taken_at":"2025-03-03T08:00:01.000000+00:00","title":"VK 1001"}');
INSERT INTO public.titles VALUES ('ŽM 7', 'Dvořák – 東京 ‘live’', 31, true, '2025-03-06T08:00:31.000000+00:00', '{"editions":[{"due":"2031-05-01","format":"12in-33","id":"lp","quantity":500,"sides":["A","B"]}],"file_sha256":"","findings":[],"last_at":"2025-03-03T08:00:31.000000+00:00","limits":{"approvals":1,"cut_to_plate_h":72.0,"mothers_per_master":10,"negatives_per_lacquer":1,"press_life":1000,"stampers_per_mother":10,"tip_life_h":20.0},"name":"Dvořák – 東京 ‘live’","parts":{},"people":["The Quay Trio"],"plans":[{"edition":"lp","fingerprint":"ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784","format":"12in-33","programme_sha256":"c0adc0e8c64c5fe7cfb64a5e4277cb113822a1ddc563ff782c8878c6c41c900a","seq":29,"side":"B"}],"seq":31,"taken_at":"2025-03-03T08:00:28.000000+00:00","title":"ŽM 7"}');


--
-- Name: alembic_version alembic_version_pkc; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.alembic_version
    ADD CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num);


--
-- Name: lines lines_hash_key; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.lines
    ADD CONSTRAINT lines_hash_key UNIQUE (hash);


--
-- Name: lines lines_key_key; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.lines
    ADD CONSTRAINT lines_key_key UNIQUE (key);


--
-- Name: lines lines_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.lines
    ADD CONSTRAINT lines_pkey PRIMARY KEY (seq);


--
-- Name: lines lines_prev_key; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.lines
    ADD CONSTRAINT lines_prev_key UNIQUE (prev);


--
-- Name: numbers numbers_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.numbers
    ADD CONSTRAINT numbers_pkey PRIMARY KEY (folded, what, title, part);


--
-- Name: parts parts_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.parts
    ADD CONSTRAINT parts_pkey PRIMARY KEY (id);


--
-- Name: parts parts_serial_key; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.parts
    ADD CONSTRAINT parts_serial_key UNIQUE (serial);


--
-- Name: settings settings_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.settings
    ADD CONSTRAINT settings_pkey PRIMARY KEY (name);


--
-- Name: titles titles_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.titles
    ADD CONSTRAINT titles_pkey PRIMARY KEY (catalogue);


--
-- Name: ix_parts_title; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_parts_title ON public.parts USING btree (title);


--
-- Name: lines_of_a_part; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX lines_of_a_part ON public.lines USING btree (part, seq);


--
-- Name: lines_of_a_title; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX lines_of_a_title ON public.lines USING btree (title, seq);


--
-- Name: titles_by_lateness; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX titles_by_lateness ON public.titles USING btree (open, late_at, catalogue);


--
-- PostgreSQL database dump complete
--


