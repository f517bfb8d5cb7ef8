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

--
-- Name: access_log_stays(); Type: FUNCTION; Schema: public; Owner: -
--

CREATE FUNCTION public.access_log_stays() RETURNS trigger
    LANGUAGE plpgsql
    AS $$ BEGIN RAISE EXCEPTION 'the access log is only added to'; END $$;


SET default_tablespace = '';

SET default_table_access_method = heap;

--
-- Name: access_log; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.access_log (
    seq integer NOT NULL,
    at character varying(40) NOT NULL,
    who character varying(200) NOT NULL,
    what character varying(40) NOT NULL,
    about character varying(200) NOT NULL,
    place character varying(80) NOT NULL
);


--
-- Name: access_log_seq_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.access_log_seq_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: access_log_seq_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.access_log_seq_seq OWNED BY public.access_log.seq;


--
-- Name: alembic_version; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.alembic_version (
    version_num character varying(32) NOT NULL
);


--
-- Name: backups; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.backups (
    id integer NOT NULL,
    at character varying(40) NOT NULL,
    file text NOT NULL,
    version character varying(40) NOT NULL,
    lines integer NOT NULL,
    head character varying(64) NOT NULL,
    size_bytes bigint NOT NULL,
    took_s double precision NOT NULL
);


--
-- Name: backups_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.backups_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: backups_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.backups_id_seq OWNED BY public.backups.id;


--
-- Name: drills; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.drills (
    id integer NOT NULL,
    at character varying(40) NOT NULL,
    file text NOT NULL,
    lines integer NOT NULL,
    head character varying(64) NOT NULL,
    took_s double precision NOT NULL,
    wrong text NOT NULL
);


--
-- Name: drills_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.drills_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: drills_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.drills_id_seq OWNED BY public.drills.id;


--
-- Name: failures; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.failures (
    key character varying(300) NOT NULL,
    tries integer NOT NULL,
    last_at character varying(40) NOT NULL
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
    folded character varying(300) NOT NULL COLLATE pg_catalog."C",
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
-- Name: people; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.people (
    id integer NOT NULL,
    name character varying(80) NOT NULL,
    folded character varying(200) NOT NULL,
    roles character varying(200) NOT NULL,
    password character varying(200) NOT NULL,
    must_change boolean NOT NULL,
    made_at character varying(40) NOT NULL,
    closed_at character varying(40) NOT NULL
);


--
-- Name: people_id_seq; Type: SEQUENCE; Schema: public; Owner: -
--

CREATE SEQUENCE public.people_id_seq
    AS integer
    START WITH 1
    INCREMENT BY 1
    NO MINVALUE
    NO MAXVALUE
    CACHE 1;


--
-- Name: people_id_seq; Type: SEQUENCE OWNED BY; Schema: public; Owner: -
--

ALTER SEQUENCE public.people_id_seq OWNED BY public.people.id;


--
-- Name: sessions; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.sessions (
    hash character varying(64) NOT NULL,
    person integer NOT NULL,
    made_at character varying(40) NOT NULL,
    seen_at character varying(40) NOT NULL,
    place character varying(80) NOT NULL
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
-- Name: tokens; Type: TABLE; Schema: public; Owner: -
--

CREATE TABLE public.tokens (
    id character varying(16) NOT NULL,
    name character varying(80) NOT NULL,
    folded character varying(200) NOT NULL,
    hash character varying(64) NOT NULL,
    scopes text NOT NULL,
    made_at character varying(40) NOT NULL,
    made_by character varying(80) NOT NULL,
    expires_at character varying(40) NOT NULL,
    revoked_at character varying(40) NOT NULL,
    used_at character varying(40) NOT NULL
);


--
-- Name: access_log seq; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.access_log ALTER COLUMN seq SET DEFAULT nextval('public.access_log_seq_seq'::regclass);


--
-- Name: backups id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.backups ALTER COLUMN id SET DEFAULT nextval('public.backups_id_seq'::regclass);


--
-- Name: drills id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.drills ALTER COLUMN id SET DEFAULT nextval('public.drills_id_seq'::regclass);


--
-- Name: people id; Type: DEFAULT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.people ALTER COLUMN id SET DEFAULT nextval('public.people_id_seq'::regclass);


--
-- Data for Name: access_log; Type: TABLE DATA; Schema: public; Owner: -
--



--
-- Data for Name: alembic_version; Type: TABLE DATA; Schema: public; Owner: -
--

INSERT INTO public.alembic_version VALUES ('0003');


--
-- Data for Name: backups; Type: TABLE DATA; Schema: public; Owner: -
--



--
-- Data for Name: drills; Type: TABLE DATA; Schema: public; Owner: -
--



--
-- Data for Name: failures; Type: TABLE DATA; Schema: public; Owner: -
--



--
-- Data for Name: lines; Type: TABLE DATA; Schema: public; Owner: -
--

INSERT INTO public.lines VALUES (1, '2025-03-03T08:00:01.000000+00:00', 'Ida Vik', '', 'VK 1001', '', 'title_taken_in', '{"editions":[{"due":"2031-05-01","format":"12in-33","id":"lp","quantity":500,"sides":["A","B"]}],"name":"Harbour Lights","people":["The Quay Trio"]}', '3fd6649fa07a472797c18404b7cc55c7', '', '', '0000000000000000000000000000000000000000000000000000000000000000', '3c8180e02beb7cc8b84aeaa5b12fd839f6c3e738eaa0e5ccab5a16abca3700ff');
INSERT INTO public.lines VALUES (2, '2025-03-03T08:00:02.000000+00:00', 'Ida Vik', '', 'VK 1001', '', 'plan_kept', '{"edition":"lp","fingerprint":"5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4","format":"12in-33","programme_sha256":"e842a7063ee6a88dfca2601e9f3a475e17da71486494bba4941a190c0dee0f71","side":"A"}', '18ba875eb96643399496144447995da2', '', '', '3c8180e02beb7cc8b84aeaa5b12fd839f6c3e738eaa0e5ccab5a16abca3700ff', 'b5d54bbbe2521a8d515b8958225f68f5873b028db5ce9437d9760c1cb4de49fb');
INSERT INTO public.lines VALUES (3, '2025-03-03T08:00:03.000000+00:00', 'Ida Vik', '', 'VK 1001', '', 'test_cut_measured', '{"width_um":52.0}', '32f0b893acab41628345e928e4eb76cd', '', '', 'b5d54bbbe2521a8d515b8958225f68f5873b028db5ce9437d9760c1cb4de49fb', '6b35165fe1db6023fdd1a18e992f14def0af5397b7fa60772d5e0a3fc384f820');
INSERT INTO public.lines VALUES (4, '2025-03-03T08:00:04.000000+00:00', 'Ida Vik', '', 'VK 1001', 'LA1-7', 'lacquer_cut', '{"blank_mm":355.6,"edition":"lp","fingerprint":"5db14f82e1ef697381aab0814633a91bdfbec89c9832544caf454f2f883a9ad4","heat_a":0.6,"lacquer_batch":"L-77","mark":"VK 1001-A","operator":"Ida Vik","programme_sha256":"e842a7063ee6a88dfca2601e9f3a475e17da71486494bba4941a190c0dee0f71","side":"A","tip":"T-3","tip_hours":4.5}', '017bfcc3808845c2a5fb746c75b41e61', '', '', '6b35165fe1db6023fdd1a18e992f14def0af5397b7fa60772d5e0a3fc384f820', 'fb750497212ff75f78d1d110cd232d4098e5825bbcd2429f9b603c5910aa38dd');
INSERT INTO public.lines VALUES (5, '2025-03-03T08:00:05.000000+00:00', 'Ida Vik', '', 'VK 1001', 'LA1-7', 'checked_under_the_microscope', '{"marks_read":"VK 1001-A","width_um":51.0}', '0633a725a04f4231827aa19a2715a461', '', '', 'fb750497212ff75f78d1d110cd232d4098e5825bbcd2429f9b603c5910aa38dd', '79b1ff7fa127227d4da6371fde4aa44e4d3ce9f1995283025e847ba7e78e370d');
INSERT INTO public.lines VALUES (6, '2025-03-03T08:00:06.000000+00:00', 'Ida Vik', '', 'VK 1001', 'LA1-7', 'handed_over', '{"to":"plating"}', '4272bcd894984e13b0d949e324dabe90', '', '', '79b1ff7fa127227d4da6371fde4aa44e4d3ce9f1995283025e847ba7e78e370d', '70b822290700e3a17f5e35ff25d8a8c9fbcc5c36750baf4034ac437a221d6477');
INSERT INTO public.lines VALUES (7, '2025-03-03T08:00:07.000000+00:00', 'Ida Vik', '', 'VK 1001', 'LA1-7', 'silvered', '{}', '3896e5d80d994b43afa0b62c4c741568', '', '', '70b822290700e3a17f5e35ff25d8a8c9fbcc5c36750baf4034ac437a221d6477', 'd710efc7ff72b801b4d776c0442d6cbe9e6b1527dd162a33653397a8df1c7a40');
INSERT INTO public.lines VALUES (8, '2025-03-03T08:00:08.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MA2-9', 'plated', '{"ampere_hours":190.0,"mark":"M1","metal":"nickel","parent":"LA1-7","part_kind":"master","tank":"2"}', '678a48ab0e7a46d7b54a8bebe9007400', '', '', 'd710efc7ff72b801b4d776c0442d6cbe9e6b1527dd162a33653397a8df1c7a40', '151c6b730195ccef4b7f6f02b93816f767d0f7234d480d3b1d866819ea457e90');
INSERT INTO public.lines VALUES (9, '2025-03-03T08:00:09.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MA2-9', 'separated', '{}', '538c08ae1efc4c57875d7f64e83a5c33', '', '', '151c6b730195ccef4b7f6f02b93816f767d0f7234d480d3b1d866819ea457e90', 'fb5b56dd5b2d96f5670fd59ff187277f7b3237aba6f7a01620a982eb0a56d66a');
INSERT INTO public.lines VALUES (10, '2025-03-03T08:00:10.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MA2-9', 'weighed', '{"mass_g":180.5}', 'a4f5fb8275994de1bb610ef1f5af2ce9', '', '', 'fb5b56dd5b2d96f5670fd59ff187277f7b3237aba6f7a01620a982eb0a56d66a', '0ff392de8cf4fa72d623f1fcb49b5b3aa0f72b8b6b2fcdba557b9e5e44b826a9');
INSERT INTO public.lines VALUES (11, '2025-03-03T08:00:11.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MA2-9', 'passivated', '{}', '6815dfef97c946e3a5da63beac39ed70', '', '', '0ff392de8cf4fa72d623f1fcb49b5b3aa0f72b8b6b2fcdba557b9e5e44b826a9', '8dfb5c053cee3a89a38e8cd3af641b548083debdd57c1598efd0544063c3522b');
INSERT INTO public.lines VALUES (12, '2025-03-03T08:00:12.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'plated', '{"ampere_hours":190.0,"metal":"nickel","parent":"MA2-9","part_kind":"mother","tank":"2"}', '7fded3b65672449ba31f55b65de16031', '', '', '8dfb5c053cee3a89a38e8cd3af641b548083debdd57c1598efd0544063c3522b', '0f2a3bcfa1587985d78350ba423579192216d851b09b4b20101b8dfc67e3c170');
INSERT INTO public.lines VALUES (13, '2025-03-03T08:00:13.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'separated', '{}', 'd3745be754b440eea08bbf2d2eadc3f0', '', '', '0f2a3bcfa1587985d78350ba423579192216d851b09b4b20101b8dfc67e3c170', '83557d2bf2c41bd9cd6791c1ddd5428c934cb76b998aa2f5f5ff824a33791fbe');
INSERT INTO public.lines VALUES (14, '2025-03-03T08:00:14.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'test_played', '{"count":0}', '7a64852f6a084a938b9987fb5277a926', '', '', '83557d2bf2c41bd9cd6791c1ddd5428c934cb76b998aa2f5f5ff824a33791fbe', 'df79ccd80adab7e49e15c5acb6d8dc8ca163d9f27af7e13b86f67c990da587f9');
INSERT INTO public.lines VALUES (15, '2025-03-03T08:00:15.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'approved', '{}', 'da62f83bd4454fe6bdd66967c4cb36e5', '', '', 'df79ccd80adab7e49e15c5acb6d8dc8ca163d9f27af7e13b86f67c990da587f9', '427a403035e5ca405cb4f4f1810ba243cd40dc9850dcaef8a6a91624e2e4ec87');
INSERT INTO public.lines VALUES (16, '2025-03-03T08:00:16.000000+00:00', 'Ida Vik', '', 'VK 1001', 'MO3-5', 'passivated', '{}', '394c8a2a352545b3825eefcb9cec7b9a', '', '', '427a403035e5ca405cb4f4f1810ba243cd40dc9850dcaef8a6a91624e2e4ec87', '24acf2c214c143d95f4300250e475ea0d39efa0a61f39653d86c8fd913c8ae0a');
INSERT INTO public.lines VALUES (17, '2025-03-03T08:00:17.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'plated', '{"ampere_hours":190.0,"mark":"S1","metal":"nickel","parent":"MO3-5","part_kind":"stamper","tank":"2"}', '56603c3c63df4d7cb250f97202b29270', '', '', '24acf2c214c143d95f4300250e475ea0d39efa0a61f39653d86c8fd913c8ae0a', '694a033e8fae4fc9eb3f61c95dde9b12fbd7170d52caee0a19c10eebd9d23990');
INSERT INTO public.lines VALUES (18, '2025-03-03T08:00:18.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'separated', '{}', 'aa72c9633c8d47539c605e209f91f0be', '', '', '694a033e8fae4fc9eb3f61c95dde9b12fbd7170d52caee0a19c10eebd9d23990', '24266c07ddb6c31545af329bc1a3603ba838506525ef1f43b55b594e667e4d56');
INSERT INTO public.lines VALUES (19, '2025-03-03T08:00:19.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'measured', '{"thickness_um":201.0,"where":"mean"}', '95000564582c4c13acbd84f6785dd170', '', '', '24266c07ddb6c31545af329bc1a3603ba838506525ef1f43b55b594e667e4d56', '304b73d90569c71016f15ad54d50a35f4bcd6aa66df25e32b68adb021434ffde');
INSERT INTO public.lines VALUES (20, '2025-03-03T08:00:20.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'back_sanded', '{}', '25bcaeeacbf044058a27c8ef4cf7881b', '', '', '304b73d90569c71016f15ad54d50a35f4bcd6aa66df25e32b68adb021434ffde', '424461906eb808ff315aea27e8b25ad889c8df25299b6f599dd97215ae4e0a67');
INSERT INTO public.lines VALUES (21, '2025-03-03T08:00:21.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'centred', '{"run_out_um":20.0}', '73912f2efac64d449d12e889fe088b1c', '', '', '424461906eb808ff315aea27e8b25ad889c8df25299b6f599dd97215ae4e0a67', 'b952f9660caa4acd6313d238654e788997b18aab72b9a299c743706773d9ca27');
INSERT INTO public.lines VALUES (22, '2025-03-03T08:00:22.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'trimmed', '{"diameter_mm":330.0}', '343c237a330b4375857ce2a8fcc407f6', '', '', 'b952f9660caa4acd6313d238654e788997b18aab72b9a299c743706773d9ca27', '434067547694e18f7cd1457480ea59ecd8e7f5bfe31e64277acf79d8dc82c35c');
INSERT INTO public.lines VALUES (23, '2025-03-03T08:00:23.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'formed', '{}', 'c141f1270679421ca9755534c2ccdbd1', '', '', '434067547694e18f7cd1457480ea59ecd8e7f5bfe31e64277acf79d8dc82c35c', 'd0cfe67f8fb12ee80c60e2c250b51b60f00a9470f4852530364dc853f31e6944');
INSERT INTO public.lines VALUES (24, '2025-03-03T08:00:24.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'passivated', '{}', 'd2f6ffed24d14a5ca42b7afa10eb29e6', '', '', 'd0cfe67f8fb12ee80c60e2c250b51b60f00a9470f4852530364dc853f31e6944', '056224731c585d77a7940615ed140375f7969d24b2edc463c09e0e25a4e264f6');
INSERT INTO public.lines VALUES (25, '2025-03-03T08:00:25.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'put_to_press', '{"press":"press 4"}', '540e355645f1492f950d0d0c99288e71', '', '', '056224731c585d77a7940615ed140375f7969d24b2edc463c09e0e25a4e264f6', 'd8fd65c8f8dcab00e4e81de8c464c6472b131536d0287f306e21d058e77dabcf');
INSERT INTO public.lines VALUES (26, '2025-03-03T08:00:26.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'taken_off', '{"count":480}', '369e3da835f74976a38bd3f63994dd94', '', '', 'd8fd65c8f8dcab00e4e81de8c464c6472b131536d0287f306e21d058e77dabcf', 'fa97040d25a5854302fbb47fca22901946622bba506385d3b44a941a81caca16');
INSERT INTO public.lines VALUES (27, '2025-03-03T08:00:27.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'vaulted', '{"place":"shelf 12"}', 'af11767af14948d5bbd76edef36ff05d', '', '', 'fa97040d25a5854302fbb47fca22901946622bba506385d3b44a941a81caca16', 'ea55d48dbd71f83f9acf2f0b308944f034c0fcf91707c76c14da0c456f3d30d5');
INSERT INTO public.lines VALUES (28, '2025-03-03T08:00:28.000000+00:00', 'Ida Vik', '', 'ŽM 7', '', 'title_taken_in', '{"editions":[{"due":"2031-05-01","format":"12in-33","id":"lp","quantity":500,"sides":["A","B"]}],"name":"Dvořák – 東京 ‘live’","people":["The Quay Trio"]}', 'fd2906ce0a0f4c5f9c660d7be36cfffa', '', '', 'ea55d48dbd71f83f9acf2f0b308944f034c0fcf91707c76c14da0c456f3d30d5', '73a1e55efa396a523d59dd76323c9602fff381981ec6bf0b1a160f952b1977cf');
INSERT INTO public.lines VALUES (29, '2025-03-03T08:00:29.000000+00:00', 'Ida Vik', '', 'ŽM 7', '', 'plan_kept', '{"edition":"lp","fingerprint":"ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784","format":"12in-33","programme_sha256":"c0adc0e8c64c5fe7cfb64a5e4277cb113822a1ddc563ff782c8878c6c41c900a","side":"B"}', 'a4cc38c23d1b4f729acd3574c9664f80', '', '', '73a1e55efa396a523d59dd76323c9602fff381981ec6bf0b1a160f952b1977cf', '8c073cb405f424d012c650783ffc0a562e3b477b6c4a80b2f3d47a8839e94147');
INSERT INTO public.lines VALUES (30, '2025-03-03T08:00:30.000000+00:00', 'Ida Vik', '', 'ŽM 7', '', 'test_cut_measured', '{"width_um":52.0}', 'f7d486ed42ab46119d94455b9171babe', '', '', '8c073cb405f424d012c650783ffc0a562e3b477b6c4a80b2f3d47a8839e94147', 'd4736d1712e39af5e5975620b43f7a59252262b007359be34ad6cc739b6f615e');
INSERT INTO public.lines VALUES (31, '2025-03-03T08:00:31.000000+00:00', 'Ida Vik', '', 'ŽM 7', 'LA5-8', 'lacquer_cut', '{"blank_mm":355.6,"edition":"lp","fingerprint":"ab0708dceb7709d8cf91487e8f22b223f3c01ce66f9c4583f2252731b74de784","heat_a":0.6,"lacquer_batch":"L-77","mark":"ŽM 7-B","operator":"Ida Vik","programme_sha256":"c0adc0e8c64c5fe7cfb64a5e4277cb113822a1ddc563ff782c8878c6c41c900a","side":"B","tip":"T-3","tip_hours":4.5}', 'b19c4212c02b48278620779a416036bd', '', '', 'd4736d1712e39af5e5975620b43f7a59252262b007359be34ad6cc739b6f615e', '04f5f031d2eb4df7fbad7018ba57f4cc03bbb37a224b915b27a571d08167dc28');
INSERT INTO public.lines VALUES (32, '2025-03-03T08:00:32.000000+00:00', 'Łucja Wójcik', '', 'VK 1001', 'LA1-7', 'checked_under_the_microscope', '{"marks_read":"?"}', '4ce61200b85f4f968677593a28aca63f', 'scribed by hand', '', '04f5f031d2eb4df7fbad7018ba57f4cc03bbb37a224b915b27a571d08167dc28', '9d4d97e9d6886ac915775fe44e326e848af4be510a76079853c6778377ed2da6');
INSERT INTO public.lines VALUES (33, '2025-03-03T08:00:33.000000+00:00', 'Ola Berg', '', 'VK 1001', 'LA1-7', 'checked_under_the_microscope', '{"marks_read":"VK"}', '95bf8f972b8e4423a10cf755c0c7cd3c', '', '', '9d4d97e9d6886ac915775fe44e326e848af4be510a76079853c6778377ed2da6', '048d8282b06389c3043dad1aec9173b0e3dd205fbc94a9e3a70b49443e6951f0');
INSERT INTO public.lines VALUES (34, '2025-03-03T08:00:34.000000+00:00', 'Ida Vik', '', 'VK 1001', '', 'corrected', '{"instead":{"count":84},"note":"figures swapped","seq":26}', '221747da81544505a0a80d4e9d3bbff1', '', '', '048d8282b06389c3043dad1aec9173b0e3dd205fbc94a9e3a70b49443e6951f0', '91ba954b5106cfca756b5bcfecebdd1ecaeb67eb5fdb09a4025317107c0fa1b3');
INSERT INTO public.lines VALUES (35, '2025-03-03T08:00:35.000000+00:00', 'Ida Vik', '', 'VK 1001', 'ST4-2', 'corrected', '{"note":"not on the shelf","seq":27}', '57c4b339cec24c039cd4580a25d596a8', '', '', '91ba954b5106cfca756b5bcfecebdd1ecaeb67eb5fdb09a4025317107c0fa1b3', '3a6caa55bfdf36d2e8c60d8afb17eb0fa7dc706c9cf36349c4ee16e1ef6eed2a');
INSERT INTO public.lines VALUES (36, '2025-03-03T08:00:35.000000+00:00', 'Ida Vik', 'bench 2', 'VK 1001', 'ST4-2', 'handed_over', '{"to":"the press"}', 'tap 1', '', '2025-03-03T06:00:36.000000+00:00', '3a6caa55bfdf36d2e8c60d8afb17eb0fa7dc706c9cf36349c4ee16e1ef6eed2a', 'a033960e112c6648dcc32074c42d8d72818664d70cbb3c50f0d0032b7d39d8b0');


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
-- Data for Name: people; Type: TABLE DATA; Schema: public; Owner: -
--

INSERT INTO public.people VALUES (1, 'Ola Berg', 'ola berg', 'keeper', '', true, '2025-03-03T00:00:00+00:00', '');


--
-- Data for Name: sessions; Type: TABLE DATA; Schema: public; Owner: -
--



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
-- Data for Name: tokens; Type: TABLE DATA; Schema: public; Owner: -
--



--
-- Name: access_log_seq_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.access_log_seq_seq', 1, false);


--
-- Name: backups_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.backups_id_seq', 1, false);


--
-- Name: drills_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.drills_id_seq', 1, false);


--
-- Name: people_id_seq; Type: SEQUENCE SET; Schema: public; Owner: -
--

SELECT pg_catalog.setval('public.people_id_seq', 1, true);


--
-- Name: access_log access_log_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.access_log
    ADD CONSTRAINT access_log_pkey PRIMARY KEY (seq);


--
-- Name: alembic_version alembic_version_pkc; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.alembic_version
    ADD CONSTRAINT alembic_version_pkc PRIMARY KEY (version_num);


--
-- Name: backups backups_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.backups
    ADD CONSTRAINT backups_pkey PRIMARY KEY (id);


--
-- Name: drills drills_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.drills
    ADD CONSTRAINT drills_pkey PRIMARY KEY (id);


--
-- Name: failures failures_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.failures
    ADD CONSTRAINT failures_pkey PRIMARY KEY (key);


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
-- Name: people people_folded_key; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.people
    ADD CONSTRAINT people_folded_key UNIQUE (folded);


--
-- Name: people people_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.people
    ADD CONSTRAINT people_pkey PRIMARY KEY (id);


--
-- Name: sessions sessions_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.sessions
    ADD CONSTRAINT sessions_pkey PRIMARY KEY (hash);


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
-- Name: tokens tokens_folded_key; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.tokens
    ADD CONSTRAINT tokens_folded_key UNIQUE (folded);


--
-- Name: tokens tokens_pkey; Type: CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.tokens
    ADD CONSTRAINT tokens_pkey PRIMARY KEY (id);


--
-- Name: access_log_of_a_person; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX access_log_of_a_person ON public.access_log USING btree (who, what, at);


--
-- Name: ix_parts_title; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_parts_title ON public.parts USING btree (title);


--
-- Name: ix_sessions_person; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX ix_sessions_person ON public.sessions USING btree (person);


--
-- Name: lines_of_a_part; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX lines_of_a_part ON public.lines USING btree (part, seq);


--
-- Name: lines_of_a_title; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX lines_of_a_title ON public.lines USING btree (title, seq);


--
-- Name: numbers_of_a_title; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX numbers_of_a_title ON public.numbers USING btree (title);


--
-- Name: titles_by_lateness; Type: INDEX; Schema: public; Owner: -
--

CREATE INDEX titles_by_lateness ON public.titles USING btree (open, late_at, catalogue);


--
-- Name: access_log access_log_stays; Type: TRIGGER; Schema: public; Owner: -
--

CREATE TRIGGER access_log_stays BEFORE DELETE OR UPDATE OR TRUNCATE ON public.access_log FOR EACH STATEMENT EXECUTE FUNCTION public.access_log_stays();


--
-- Name: sessions sessions_person_fkey; Type: FK CONSTRAINT; Schema: public; Owner: -
--

ALTER TABLE ONLY public.sessions
    ADD CONSTRAINT sessions_person_fkey FOREIGN KEY (person) REFERENCES public.people(id);


--
-- PostgreSQL database dump complete
--


