#!/usr/bin/perl
# Judges what tshark dissected (slow_e131.sh says how it was called), field by field, against tables
# 4-1 and 4-2 of ANSI E1.31-2018 and against what e131_player.c was told to play.
#   e131_dissected.pl fields
#       prints the names of the fields, for tshark -e
#   e131_dissected.pl packets FILE
#       constants, lengths and identity of every packet
#   e131_dissected.pl stream FILE ADDRESS|multicast UNIVERSE PRIORITY PIXELS ORDER STILL
#       one stream: destination, slots, sequence, rate, rests, synchronisation, end
# Says what is wrong; ends with 0 where nothing is.
use strict;
use warnings;

my @names = qw(frame.time_relative ip.dst ipv6.dst udp.dstport udp.length udp.payload
    acn.preamble_size acn.postamble_size acn.packet_identifier acn.pdu.flags acn.pdu.length
    acn.protocol_id acn.cid acn.dmx_vector acn.dmx.source_name acn.dmx.priority acn.dmx.reserved
    acn.dmx.seq_number acn.dmx.options acn.dmx.option_p acn.dmx.option_s acn.dmx.universe
    acn.dmp_vector acn.dmp_adt_v acn.dmp_adt_r acn.dmp_adt_d acn.dmp_adt_x acn.dmp_adt_a
    acn.dmx.first_property_address acn.dmx.increment acn.dmx.count acn.dmx.start_code2
    acn.dmx.data);
my $wrong = 0;

sub wrong {
    $wrong++;
    print "    $_[0]\n" if $wrong <= 10;
}

sub equal {
    my ($what, $is, $wanted) = @_;
    wrong("$what is `$is`, not `$wanted`") if $is ne $wanted;
}

# Rows of `from-to: HEX HEX ...`, zero shown as `..`; the first row only numbers the columns.
sub slots {
    my (undef, @rows) = split /,/, $_[0];
    return map { s/^\s*\d+-\d+:\s*//; map { $_ eq '..' ? 0 : hex } grep { $_ ne '|' } split } @rows;
}

sub packets {
    open my $file, '<', $_[0] or die "$_[0]: $!\n";
    my @packets;
    while (my $line = <$file>) {
        chomp $line;
        my %packet;
        @packet{@names} = split /\t/, $line, -1;
        $packet{to} = $packet{'ip.dst'} || $packet{'ipv6.dst'};
        $packet{bytes} = $packet{'udp.length'} - 8;
        $packet{sync} = $packet{bytes} == 49;
        push @packets, \%packet;
    }
    return @packets;
}

# Table 4-1; the CID and the name are the player's.
sub data_constants {
    my %is = %{$_[0]};
    my $length = $is{bytes};
    my %wanted = ('acn.preamble_size' => 16, 'acn.postamble_size' => 0,
        'acn.packet_identifier' => 'ASC-E1.17', 'acn.pdu.flags' => '0x70,0x70,0x70',
        'acn.pdu.length' => join(',', $length - 16, $length - 38, $length - 115),
        'acn.protocol_id' => 4, 'acn.cid' => '12345678-9abc-4def-8001-020304050607',
        'acn.dmx_vector' => 2, 'acn.dmx.source_name' => "bakery l\xC3\xA4mp",
        'acn.dmx.option_p' => 0, 'acn.dmp_vector' => 2, 'acn.dmp_adt_v' => 1,
        'acn.dmp_adt_r' => 0, 'acn.dmp_adt_d' => 2, 'acn.dmp_adt_x' => 0, 'acn.dmp_adt_a' => 1,
        'acn.dmx.first_property_address' => 0, 'acn.dmx.increment' => 1,
        'acn.dmx.count' => $length - 125, 'acn.dmx.start_code2' => 0);
    for my $name (sort keys %wanted) {
        my $value = $is{$name};
        $value = hex $value if $value =~ /^0x[0-9a-f]+$/;
        equal("$name at $is{'frame.time_relative'}", $value, $wanted{$name});
    }
    my @slots = slots($is{'acn.dmx.data'});
    equal('the number of slots', scalar @slots, $length - 126);
}

# Table 4-2. This tshark does not dissect these packets: the octets themselves.
sub sync_constants {
    my $head = '00100000' . '4153432d45312e3137000000' . '7021' . '00000008'
        . '123456789abc4def8001020304050607' . '700b' . '00000001';
    equal('a synchronisation packet', substr($_[0]{'udp.payload'}, 0, 88), $head);
    equal('its reserved octets', substr($_[0]{'udp.payload'}, 94), '0000');
}

sub check_packets {
    my @packets = packets($_[0]);
    wrong('there are fewer than 100 packets') if @packets < 100;
    for my $packet (@packets) {
        equal('the port', $packet->{'udp.dstport'}, 5568);
        $packet->{sync} ? sync_constants($packet) : data_constants($packet);
    }
    printf "    %d packets dissected\n", scalar @packets;
}

# Channel c of pixel p in frame n is (n + 3 p + 50 c) mod 256; gives n, or -1 for a dark frame.
sub frame_of {
    my ($packet, $first, $order) = @_;
    my @slots = slots($packet->{'acn.dmx.data'});
    return -1 unless grep { $_ != 0 } @slots;
    my @channels = map { index 'rgbw', $_ } split //, $order;
    my $number = ($slots[0] - 3 * $first - 50 * $channels[0]) & 255;
    for my $i (0 .. $#slots) {
        my $wanted = ($number + 3 * ($first + int($i / @channels))
            + 50 * $channels[$i % @channels]) & 255;
        return wrong("slot $i of frame $number is $slots[$i], not $wanted") if $slots[$i] != $wanted;
    }
    return $number;
}

# One universe: number I of the stream.
sub check_universe {
    my ($stream, $i, @packets) = @_;
    my ($last, $number, $moving, $rests) = (undef, 0, 0, 0);
    my $first = $i * $stream->{share};
    my $pixels = $stream->{pixels} - $first;
    $pixels = $stream->{share} if $pixels > $stream->{share};
    my $end = @packets - 3;
    for my $n (0 .. $#packets) {
        my $packet = $packets[$n];
        my $ending = $n >= $end;
        equal('the sequence', $packet->{'acn.dmx.seq_number'}, $n & 255);
        equal('the priority', $packet->{'acn.dmx.priority'}, $stream->{priority});
        equal('the end', $packet->{'acn.dmx.option_s'}, $ending ? 1 : 0);
        equal('the options', $packet->{'acn.dmx.options'},
            $ending ? 0x40 : $stream->{universes} > 1 ? 0x20 : 0);
        equal('the synchronisation address', $packet->{'acn.dmx.reserved'},
            $ending || $stream->{universes} == 1 ? 0 : $stream->{universe});
        equal('the count', $packet->{'acn.dmx.count'}, 1 + $pixels * length $stream->{order});
        my $frame = frame_of($packet, $first, $stream->{order});
        equal('the dark of a frame', $frame < 0 ? 1 : 0, $n >= $end - 3 ? 1 : 0);
        if (defined $last) {
            my $since = $packet->{'frame.time_relative'} - $last->{'frame.time_relative'};
            wrong("two packets are $since s apart") if $since < 0.0249 || $since > 1.0;
            my $step = ($frame - $number) & 255;
            if ($frame >= 0 && $step != 0) {
                $moving++;
                wrong("frame $frame follows $number") if $step > 128;
            } elsif ($since > 0.5) {
                $rests++;
                wrong("a rest of $since s") if $since < 0.8;
            }
        }
        $last = $packet;
        $number = $frame;
    }
    wrong("only $moving frames moved") if $moving < 20;
    wrong("$rests rests in $stream->{still} s") if abs($rests - $stream->{still} / 0.9) > 1.5;
    return scalar @packets;
}

# Behind all packets of a frame, a little later, the packet that shows it.
sub check_sync {
    my ($stream, @packets) = @_;
    my ($count, $data, $last) = (0, 0, 0);
    for my $packet (@packets) {
        if (!$packet->{sync}) {
            $data++;
            $last = $packet->{'frame.time_relative'};
            next;
        }
        my $since = $packet->{'frame.time_relative'} - $last;
        equal('data packets of a frame', $data, $stream->{universes});
        wrong("$since s from data to synchronisation") if $since < 0.0009 || $since > 0.1;
        equal('sequence and address of the synchronisation', substr($packet->{'udp.payload'}, 88, 6),
            sprintf '%02x%04x', $count++ & 255, $stream->{universe});
        $data = 0;
    }
    equal('data packets at the end', $data, $stream->{universes} * 3) if $stream->{universes} > 1;
    return $count;
}

sub group_of {
    my ($stream, $universe) = @_;
    return $stream->{to} if $stream->{to} ne 'multicast';
    return sprintf '239.255.%d.%d', $universe >> 8, $universe & 255;
}

sub check_stream {
    my ($file, @said) = @_;
    my %stream;
    @stream{qw(to universe priority pixels order still)} = @said;
    $stream{share} = int(512 / length $stream{order});
    $stream{universes} = int(($stream{pixels} + $stream{share} - 1) / $stream{share});
    my (@all, @counts);
    my @packets = packets($file);
    for my $i (0 .. $stream{universes} - 1) {
        my $universe = $stream{universe} + $i;
        my @mine = grep { !$_->{sync} && $_->{'acn.dmx.universe'} eq $universe } @packets;
        equal("the destination of universe $universe", $_->{to}, group_of(\%stream, $universe))
            for @mine;
        push @counts, check_universe(\%stream, $i, @mine) if @mine > 6;
        wrong("universe $universe is not there") if @mine <= 6;
        push @all, @mine;
    }
    my $address = sprintf '%04x', $stream{universe};
    push @all, grep { $_->{sync} && substr($_->{'udp.payload'}, 90, 4) eq $address } @packets;
    $_->{sync} and equal('the destination of synchronisation', $_->{to},
        group_of(\%stream, $stream{universe})) for @all;
    my $syncs = check_sync(\%stream,
        sort { $a->{'frame.time_relative'} <=> $b->{'frame.time_relative'} } @all);
    equal('packets of synchronisation', $syncs, $stream{universes} > 1 ? $counts[0] - 3 : 0);
    printf "    universes from %d: packets %s, synchronisation %d\n", $stream{universe},
        join(' ', @counts), $syncs;
}

my $what = shift // '';
if ($what eq 'fields') {
    print "$_\n" for @names;
} elsif ($what eq 'packets') {
    check_packets(@ARGV);
} elsif ($what eq 'stream') {
    check_stream(@ARGV);
} else {
    die "packets, stream or fields\n";
}
exit($wrong > 0 ? 1 : 0);
