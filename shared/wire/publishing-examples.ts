/**
 * Ready-to-paste publishing examples, filled with a gateway's own broker, user and topic. They read the password from the
 * environment, so that it lands in no file; each publishes one sample with QoS 1 and ends with 0 when the broker has taken
 * it, which with the embedded broker says that it is on disk (contract 1.4).
 * `tests/integration/gateway-mosquitto.test.ts` runs those that `proof` says are run; what isn't says so where it is shown.
 */
export interface ExampleOf {
  readonly host: string;
  readonly port: number;
  readonly isTls: boolean;
  readonly username: string;
  readonly topic: string;
  readonly payload: string;
}

export interface PublishingExample {
  readonly language: 'Shell' | 'JavaScript' | 'Python' | 'Go' | 'Java' | 'C#';
  /** what it stands on, and how that is got */
  readonly needs: string;
  /** how far our own tests go with it, in words */
  readonly proof: string;
  readonly code: string;
}

const RUN = 'Our tests run it as it stands here.';
const RUN_WHERE_INSTALLED = 'Our tests compile it, and run it where paho-mqtt is installed.';
const WRITTEN = 'Our tests don’t run this one: try it once before you rely on it.';

/** Authority's certificate beside the program: as it was given to whoever set the broker up. */
const CA_FILE = 'ca.pem';

export const publishingExamples = (of: ExampleOf): readonly PublishingExample[] => [
  {
    language: 'Shell',
    needs: 'mosquitto_pub, of the package mosquitto-clients',
    proof: RUN,
    code: shell(of),
  },
  {
    language: 'JavaScript',
    needs: 'Node.js with the package mqtt (npm install mqtt)',
    proof: RUN,
    code: javaScript(of),
  },
  {
    language: 'Python',
    needs: 'paho-mqtt 2 (pip install paho-mqtt)',
    proof: RUN_WHERE_INSTALLED,
    code: python(of),
  },
  { language: 'Go', needs: 'github.com/eclipse/paho.mqtt.golang', proof: WRITTEN, code: go(of) },
  {
    language: 'Java',
    needs: 'org.eclipse.paho.client.mqttv3, with the authority in the trust store',
    proof: WRITTEN,
    code: java(of),
  },
  {
    language: 'C#',
    needs: 'the package MQTTnet, version 5, with the authority in the machine’s trust store',
    proof: WRITTEN,
    code: cSharp(of),
  },
];

/** In single quotes of a POSIX shell. */
const quoted = (text: string): string => `'${text.replaceAll("'", "'\\''")}'`;
/** JSON's strings are strings of all the others as well. */
const literal = (text: string): string => JSON.stringify(text);
const schemeOf = ({ isTls }: ExampleOf, plain: string, secure: string): string => (isTls ? secure : plain);

const shell = (of: ExampleOf): string => `# the password: export HOLDOFF_PASSWORD=…
mosquitto_pub -h ${quoted(of.host)} -p ${of.port}${of.isTls ? ` --cafile ${CA_FILE}` : ''} \\
  -u ${quoted(of.username)} -P "$HOLDOFF_PASSWORD" -q 1 \\
  -t ${quoted(of.topic)} -m ${quoted(of.payload)}
`;

const javaScript = (
  of: ExampleOf,
): string => `${of.isTls ? "import { readFileSync } from 'node:fs';\n" : ''}import { connectAsync } from 'mqtt';

const client = await connectAsync(${literal(`${schemeOf(of, 'mqtt', 'mqtts')}://${of.host}:${of.port}`)}, {
  username: ${literal(of.username)},
  password: process.env.HOLDOFF_PASSWORD,${of.isTls ? `\n  ca: readFileSync('${CA_FILE}'),` : ''}
  reconnectPeriod: 0,
});
// comes back when the broker has taken it
await client.publishAsync(${literal(of.topic)}, ${literal(of.payload)}, { qos: 1 });
await client.endAsync();
`;

const python = (of: ExampleOf): string => `import os
import paho.mqtt.client as mqtt

client = mqtt.Client(mqtt.CallbackAPIVersion.VERSION2)
client.username_pw_set(${literal(of.username)}, os.environ["HOLDOFF_PASSWORD"])${of.isTls ? `\nclient.tls_set("${CA_FILE}")` : ''}
client.connect(${literal(of.host)}, ${of.port})
client.loop_start()
sent = client.publish(${literal(of.topic)}, ${literal(of.payload)}, qos=1)
sent.wait_for_publish(timeout=30)  # until the broker has taken it
client.disconnect()
client.loop_stop()
raise SystemExit(0 if sent.is_published() else 1)
`;

const go = (of: ExampleOf): string => `package main

import (
${of.isTls ? '\t"crypto/tls"\n\t"crypto/x509"\n' : ''}	"log"
	"os"

	mqtt "github.com/eclipse/paho.mqtt.golang"
)

func main() {
	options := mqtt.NewClientOptions().AddBroker(${literal(`${schemeOf(of, 'tcp', 'ssl')}://${of.host}:${of.port}`)})
	options.SetUsername(${literal(of.username)}).SetPassword(os.Getenv("HOLDOFF_PASSWORD"))
${
  of.isTls
    ? `	authority, err := os.ReadFile("${CA_FILE}")
	if err != nil {
		log.Fatal(err)
	}
	trusted := x509.NewCertPool()
	trusted.AppendCertsFromPEM(authority)
	options.SetTLSConfig(&tls.Config{RootCAs: trusted})
`
    : ''
}	client := mqtt.NewClient(options)
	if token := client.Connect(); token.Wait() && token.Error() != nil {
		log.Fatal(token.Error())
	}
	token := client.Publish(${literal(of.topic)}, 1, false, ${literal(of.payload)})
	if token.Wait() && token.Error() != nil {
		log.Fatal(token.Error())
	}
	client.Disconnect(250)
}
`;

const java = (of: ExampleOf): string => `import org.eclipse.paho.client.mqttv3.MqttClient;
import org.eclipse.paho.client.mqttv3.MqttConnectOptions;
import org.eclipse.paho.client.mqttv3.persist.MemoryPersistence;

public class Publish {
  public static void main(String[] arguments) throws Exception {
    MqttConnectOptions options = new MqttConnectOptions();
    options.setUserName(${literal(of.username)});
    options.setPassword(System.getenv("HOLDOFF_PASSWORD").toCharArray());
    MqttClient client = new MqttClient(${literal(`${schemeOf(of, 'tcp', 'ssl')}://${of.host}:${of.port}`)},
        MqttClient.generateClientId(), new MemoryPersistence());
    client.connect(options);
    // comes back when the broker has taken it
    client.publish(${literal(of.topic)}, ${literal(of.payload)}.getBytes("UTF-8"), 1, false);
    client.disconnect();
    client.close();
  }
}
`;

const cSharp = (of: ExampleOf): string => `using MQTTnet;
using MQTTnet.Protocol;

var options = new MqttClientOptionsBuilder()
    .WithTcpServer(${literal(of.host)}, ${of.port})
    .WithCredentials(${literal(of.username)}, Environment.GetEnvironmentVariable("HOLDOFF_PASSWORD"))${of.isTls ? '\n    .WithTlsOptions(tls => tls.UseTls())' : ''}
    .WithProtocolVersion(MQTTnet.Formatter.MqttProtocolVersion.V311)
    .Build();
using var client = new MqttClientFactory().CreateMqttClient();
await client.ConnectAsync(options);
// comes back when the broker has taken it
await client.PublishAsync(new MqttApplicationMessageBuilder()
    .WithTopic(${literal(of.topic)})
    .WithPayload(${literal(of.payload)})
    .WithQualityOfServiceLevel(MqttQualityOfServiceLevel.AtLeastOnce)
    .Build());
await client.DisconnectAsync();
`;
